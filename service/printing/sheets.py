"""All paper of a plan: labels, tags and sheets as PDF files, or one label or sheet alone for a reprint."""

from __future__ import annotations

from collections.abc import Callable, Collection
from pathlib import Path

from service.printing.anchors import anchors_pdf
from service.printing.bundles import bundles_pdf, tags_pdf
from service.printing.labels import Dpi, LabelSize, LabelStyle, labels_pdf
from service.printing.lists import packing_pdf, purchase_pdf
from service.printing.loads import loads_pdf
from service.printing.machines import bevel_pdf, brake_pdf, shapes_pdf, slit_pdf
from service.printing.page import Paper, Setting
from service.printing.rigging import rigging_pdf
from service.printing.saw import saw_pdf
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
from solver.documents.site import installation_sheets
from solver.documents.templates import head_templates
from solver.documents.texts import Language
from solver.documents.timetable import machine_days
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from solver.units import show_length, show_weight

Tell = Callable[[str, float], None]
OF_TIMES = ("machine-days", "timetable-weeks")  # the sheets that quote the timetable


class Papers:
    """The paper of one plan: each method gives one PDF, the same bytes for the same plan, time and settings."""

    def __init__(
        self,
        plan: Plan,
        plant: Plant,
        *,
        made: str,
        language: Language = "en",
        size: LabelSize = "4x6",
        dpi: Dpi = 203,
        paper: Paper | None = None,
    ) -> None:
        self.index = PlanIndex(plan, plant)
        self.unit = plan.unit
        page: Paper = paper or ("letter" if plan.unit == "in" else "A4")
        self.setting = Setting(plan=plan.id, made=made, language=language, paper=page, unit=plan.unit)
        self.style = LabelStyle(size=size, dpi=dpi, language=language, unit=plan.unit)

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
        return rigging_pdf(rig_sheets(self.index), self.setting, unit=self.unit)

    def packing(self) -> bytes:
        """Return the packing lists."""
        return packing_pdf(packing_lists(self.index), self.setting, unit=self.unit)

    def installation(self) -> bytes:
        """Return the installation booklet."""
        limit = show_weight(self.index.plant.two_lift_g, self.unit)
        return installation_pdf(installation_sheets(self.index), self.setting, unit=self.unit, two_lift=limit)

    def templates(self) -> bytes:
        """Return the full-scale templates of odd heads."""
        return templates_pdf(head_templates(self.index), self.setting, unit=self.unit)

    def anchors(self) -> bytes:
        """Return the anchor plans."""
        return anchors_pdf(anchor_sheets(self.index), self.setting, unit=self.unit)

    def machine_days(self) -> bytes:
        """Return what each machine does, a sheet a machine and day."""
        return machine_days_pdf(machine_days(self.index), self.setting)

    def weeks(self) -> bytes:
        """Return the timetable drawn, a week a page."""
        return weeks_pdf(self.index.plan.timetable, self.setting, time_zone=self.index.plant.time_zone)

    def purchase(self) -> bytes:
        """Return the purchase list."""
        reserve = f"{self.index.plant.reserve_permille / 10:g} %"
        rows, materials = purchase_rows(self.index), material_rows(self.index)
        return purchase_pdf(rows, materials, self.setting, unit=self.unit, reserve=reserve)

    def all(self) -> dict[str, Callable[[], bytes]]:
        """Return what makes each file, by the file's name without its ending."""
        return {
            "labels": self.labels,
            "bundle-tags": self.bundle_tags,
            "saw": self.saw,
            "bevel": self.bevel,
            "router": self.router,
            "drill": self.drill,
            "brake": self.brake,
            "slit": self.slit,
            "pieces": self.pieces,
            "bundles": self.bundles,
            "rigging": self.rigging,
            "loads": self.loads,
            "packing": self.packing,
            "installation": self.installation,
            "templates": self.templates,
            "anchors": self.anchors,
            "purchase": self.purchase,
            "machine-days": self.machine_days,
            "timetable-weeks": self.weeks,
        }


def write_sheets(
    plan: Plan,
    plant: Plant,
    out: Path,
    *,
    made: str,
    tell: Tell,
    language: Language = "en",
    size: LabelSize = "4x6",
    dpi: Dpi = 203,
    only: Collection[str] | None = None,
) -> dict[str, Path]:
    """Write every label and sheet of a plan (or only those named) into a folder and return the paths by name.

    `made`: when, as it stands on each sheet; `tell` hears which file is being made and how far it is, 0 to 1.
    """
    out.mkdir(parents=True, exist_ok=True)
    paths: dict[str, Path] = {}
    makers = Papers(plan, plant, made=made, language=language, size=size, dpi=dpi).all()
    if only is not None:
        makers = {name: make for name, make in makers.items() if name in only}
    for n, (name, make) in enumerate(makers.items()):
        tell(f"{name}.pdf", n / len(makers))
        paths[name] = out / f"{name}.pdf"
        paths[name].write_bytes(make())
    tell("sheets", 1.0)
    return paths
