"""All paper of a plan: labels, tags and sheets as PDF files, or one label or sheet alone for a reprint."""

from __future__ import annotations

from collections.abc import Callable, Collection
from functools import partial
from pathlib import Path

from service.printing.anchors import anchors_pdf
from service.printing.bundles import bundles_pdf, tags_pdf
from service.printing.labels import Dpi, LabelSize, LabelStyle, labels_pdf
from service.printing.lists import packing_pdf, purchase_pdf
from service.printing.loads import loads_pdf
from service.printing.machines import bevel_pdf, brake_pdf, shapes_pdf, slit_pdf
from service.printing.rigging import rigging_pdf
from service.printing.saw import saw_pdf
from service.printing.sheet_pages import Paper, SheetSetting, order_ids_of_pieces
from service.printing.site import installation_pdf
from service.printing.templates import templates_pdf
from service.printing.timetable import machine_days_pdf, weeks_pdf
from solver.documents.anchors import anchor_sheets
from solver.documents.bundles import bundle_tag, bundle_tags
from solver.documents.index import PlanIndex
from solver.documents.labels import labels_of, piece_labels
from solver.documents.lists import packing_lists, purchase_rows
from solver.documents.loads import load_sheet, load_sheets
from solver.documents.machines import brake_rows, drill_shapes, drop_rows, panel_shapes, rip_rows, router_shapes, slit_sheets
from solver.documents.materials import material_rows
from solver.documents.rigging import rig_sheets
from solver.documents.saw import saw_sheets
from solver.documents.site import begin_sheets, installation_sheets
from solver.documents.templates import head_templates
from solver.documents.timetable import machine_days
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from solver.domain.stock import StockSnapshot
from solver.language import ENGLISH, Language
from solver.units import show_length

Tell = Callable[[str, float], None]
SHEETS = {  # each file's name without its ending, and the method of Papers that makes it
    "labels": "labels",
    "bundle-tags": "bundle_tags",
    "saw": "saw",
    "bevel": "bevel",
    "router": "router",
    "drill": "drill",
    "brake": "brake",
    "slit": "slit",
    "pieces": "pieces",
    "bundles": "bundles",
    "rigging": "rigging",
    "loads": "loads",
    "packing": "packing",
    "installation": "installation",
    "templates": "templates",
    "anchors": "anchors",
    "purchase": "purchase",
    "machine-days": "machine_days",
    "timetable-weeks": "weeks",
}
LITTLE = 0.05
WORK = {  # processor seconds for 435 pieces, on one machine: what the bar of the sheets goes by; others are LITTLE
    "labels": 1.97,
    "saw": 1.24,
    "router": 0.38,
    "bundle-tags": 0.35,
    "bundles": 0.3,
    "loads": 0.3,
    "pieces": 0.22,
    "rigging": 0.17,
    "machine-days": 0.1,
}
OF_TIMES = ("machine-days", "timetable-weeks")  # the sheets that quote the timetable


class PlanSheets:
    """The paper of one plan: each method gives one PDF, the same bytes for the same plan, time and settings.

    What the plant reads is in the plant's unit, what the crew reads in its order's; labels and tags, which both read, have the
    plant's large and the order's beside it where they differ.
    """

    def __init__(
        self,
        plan: Plan,
        plant: Plant,
        *,
        made: str,
        language: Language = ENGLISH,
        size: LabelSize = "4x6",
        dpi: Dpi = 203,
        paper: Paper | None = None,
        stock: StockSnapshot | None = None,
    ) -> None:
        self.index = PlanIndex(plan, plant, language, stock)
        self.unit = unit = plant.unit  # the plant's paper; the crew's is in each order's own
        page: Paper = paper or ("letter" if unit == "in" else "A4")
        orders = order_ids_of_pieces(self.index.pieces, language)
        self.setting = SheetSetting(plan=plan.id, made=made, language=language, paper=page, unit=unit, orders=orders)
        self.style = LabelStyle(size=size, dpi=dpi, language=language, unit=unit)

    def labels(self, piece_id: str | None = None) -> bytes:
        """Return all piece labels, or the two of one piece. Raises KeyError for a piece that the plan has not."""
        rows = piece_labels(self.index) if piece_id is None else labels_of(self.index, piece_id)
        return labels_pdf(rows, self.style, title=f"labels {piece_id or self.setting.plan}")

    def bundle_tags(self, bundle_id: str | None = None) -> bytes:
        """Return all bundle tags, or one. Raises KeyError for a bundle that the plan has not."""
        rows = bundle_tags(self.index) if bundle_id is None else (bundle_tag(self.index, bundle_id),)
        return tags_pdf(rows, self.style, title=f"bundle tags {self.setting.plan}")

    def saw(self) -> bytes:
        """Return the saw sheets."""
        return saw_pdf(saw_sheets(self.index), self.setting, unit=self.unit)

    def bundles(self, bundle_id: str | None = None) -> bytes:
        """Return all bundle sheets, or one. Raises KeyError for a bundle that the plan has not."""
        rows = bundle_tags(self.index) if bundle_id is None else (bundle_tag(self.index, bundle_id),)
        handled = min(family.handled_nm for family in self.index.plant.families)
        return bundles_pdf(rows, self.setting, unit=self.unit, handled=show_length(handled, self.unit))

    def bevel(self) -> bytes:
        """Return the rip and bevel sheet."""
        return bevel_pdf(rip_rows(self.index), self.setting, unit=self.unit)

    def router(self) -> bytes:
        """Return the router sheet."""
        return shapes_pdf(
            router_shapes(self.index),
            self.setting,
            title="router_sheet",
            unit=self.unit,
            caution="caution_router",
            drops=drop_rows(self.index),
        )

    def drill(self) -> bytes:
        """Return the drill sheet."""
        return shapes_pdf(drill_shapes(self.index), self.setting, title="drill_sheet", unit=self.unit, caution="caution_drill")

    def brake(self) -> bytes:
        """Return the brake sheet."""
        return brake_pdf(brake_rows(self.index), self.setting, unit=self.unit)

    def slit(self) -> bytes:
        """Return the slitting sheet."""
        return slit_pdf(slit_sheets(self.index), self.setting, unit=self.unit)

    def pieces(self) -> bytes:
        """Return the book of piece drawings: every panel, alike ones once."""
        return shapes_pdf(panel_shapes(self.index), self.setting, title="piece_drawings", unit=self.unit)

    def loads(self, load_id: str | None = None) -> bytes:
        """Return all load sheets, or one. Raises KeyError for a load that the plan has not."""
        rows = load_sheets(self.index) if load_id is None else (load_sheet(self.index, load_id),)
        return loads_pdf(rows, self.setting, unit=self.unit)

    def rigging(self) -> bytes:
        """Return the rigging sheets."""
        return rigging_pdf(rig_sheets(self.index), self.setting)

    def packing(self) -> bytes:
        """Return the packing lists."""
        return packing_pdf(packing_lists(self.index), self.setting)

    def installation(self, order: str | None = None) -> bytes:
        """Return the installation booklet of one house, of all houses one after the other where none is named."""
        rows = installation_sheets(self.index, order)
        return installation_pdf(rows, self.setting, begin_sheets(self.index, order), one_lift_g=self.index.plant.two_lift_g)

    def templates(self) -> bytes:
        """Return the full-scale templates of odd heads."""
        return templates_pdf(head_templates(self.index), self.setting)

    def anchors(self) -> bytes:
        """Return the anchor plans."""
        return anchors_pdf(anchor_sheets(self.index), self.setting)

    def machine_days(self) -> bytes:
        """Return what each machine does, its days one after the other."""
        return machine_days_pdf(machine_days(self.index), self.setting)

    def weeks(self) -> bytes:
        """Return the timetable drawn, a week a page."""
        return weeks_pdf(self.index.names.table(self.index.plan.timetable), self.setting, time_zone=self.index.plant.time_zone)

    def purchase(self) -> bytes:
        """Return the purchase list."""
        reserve = f"{self.index.plant.reserve_permille / 10:g} %"
        rows, materials = purchase_rows(self.index), material_rows(self.index)
        return purchase_pdf(rows, materials, self.setting, unit=self.unit, reserve=reserve)

    def all(self) -> dict[str, Callable[[], bytes]]:
        """Return what makes each file, by the file's name without its ending: a booklet for each house."""
        made: dict[str, Callable[[], bytes]] = {}
        for name in sheet_names(self.index.plan):
            order = name.removeprefix("installation-") if name not in SHEETS else ""
            made[name] = partial(self.installation, order) if order else getattr(self, SHEETS[name])
        return made


def sheet_names(plan: Plan) -> tuple[str, ...]:
    """Return the names of a plan's files without their endings: booklets are one a house, named by its order."""
    houses = [f"installation-{takeoff.building.order}" for takeoff in plan.takeoffs]
    return tuple(name for kind in SHEETS for name in (houses if kind == "installation" else [kind]))


def share_of_work_drawn(drawn: Collection[str], of: Collection[str]) -> float:
    """Return the share of the work on some sheets that is done once some of them are drawn."""
    return sum(WORK.get(name, LITTLE) for name in drawn) / sum(WORK.get(name, LITTLE) for name in of)


def write_sheets(
    plan: Plan,
    plant: Plant,
    out: Path,
    *,
    made: str,
    tell: Tell,
    language: Language = ENGLISH,
    size: LabelSize = "4x6",
    dpi: Dpi = 203,
    only: Collection[str] | None = None,
    stock: StockSnapshot | None = None,
) -> dict[str, Path]:
    """Write every label and sheet of a plan (or only those named) into a folder and return the paths by name.

    A sheet that has nothing to say is not written, and one of its name that lies there from before is taken away.
    `made`: when, as it stands on each sheet; `tell` hears which file was made and how far it is, 0 to 1. `stock`: what the
    plan was made from; absent, what the catalog states.
    """
    out.mkdir(parents=True, exist_ok=True)
    paths: dict[str, Path] = {}
    drawn: list[str] = []
    makers = PlanSheets(plan, plant, made=made, language=language, size=size, dpi=dpi, stock=stock).all()
    if only is not None:
        makers = {name: make for name, make in makers.items() if name in only}
    for name, make in makers.items():
        pdf, path = make(), out / f"{name}.pdf"
        drawn.append(name)
        if pdf:
            path.write_bytes(pdf)
            paths[name] = path
        else:
            path.unlink(missing_ok=True)
        tell(f"{name}.pdf", share_of_work_drawn(drawn, makers))
    tell("sheets", 1.0)
    return paths
