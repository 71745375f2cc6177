"""Draw what a plan holds, one part at a time: bars, stacks, decks, walls and roofs; as SVG."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, TypeVar

from service.drawings.bar import bar_drawing
from service.drawings.deck import deck_plan_drawing, deck_side_drawing
from service.drawings.elevation import elevation_drawing, roof_plane_drawing
from service.drawings.shapes import Drawing
from service.drawings.stack import stack_end_drawing, stack_side_drawing
from service.errors import NotFound
from service.ports import Store, Transaction
from service.usecases.plan_rows import plan_catalog
from service.usecases.stored import read_parts
from solver.documents.names import ThingNames
from solver.domain.bundle import Bundle
from solver.domain.cut_plan import Bar, CutPlan
from solver.domain.ids import short_name
from solver.domain.load import Load
from solver.domain.material import Material
from solver.domain.piece import Role
from solver.domain.plan import LoadPart, StackPart
from solver.domain.plant import Plant
from solver.domain.takeoff import Takeoff
from solver.language import Language
from solver.units import Nm, Unit

T = TypeVar("T")
View = Literal["side", "above", "end"]


def part_about(tx: Transaction, plan_id: str, stage: str, kind: type[T], about: str) -> T:
    """Return the part of a stage that is about something. Raises NotFound."""
    for line in tx.plans.parts_of(plan_id, stage):
        if line.about == about:
            return next(read_parts(tx, plan_id, stage, kind, about=about))
    raise NotFound(stage, about)


def plan_part_about(plan_id: str, stage: str, kind: type[T], about: str, *, store: Store) -> T:
    """Return the part of a plan that is about something. Raises NotFound."""
    with store.reading() as tx:
        return part_about(tx, tx.plans.known(plan_id), stage, kind, about)


def plan_part_or_none(plan_id: str, stage: str, kind: type[T], about: str, *, store: Store) -> T | None:
    """Return a part that not every plan has, or None where this one has not. Raises NotFound for the plan."""
    with store.reading() as tx:
        return next(read_parts(tx, tx.plans.known(plan_id), stage, kind, about=about), None)


def plan_plant(plan_id: str, *, store: Store) -> Plant:
    """Return the plant catalog that a plan was made with."""
    with store.reading() as tx:
        return plan_catalog(tx, tx.plans.known(plan_id))


def draw_bar(plan_id: str, material: str, bar_id: str, language: Language, *, store: Store) -> Drawing:
    """Return the drawing of a bar. Raises NotFound."""
    cut = plan_part_about(plan_id, "nest", CutPlan, material, store=store)
    plant = plan_plant(plan_id, store=store)
    return bar_drawing_of(_one("bar", bar_id, cut.bars, lambda bar: bar.id), cut, plant, language)


def bar_drawing_of(bar: Bar, cut: CutPlan, plant: Plant, language: Language) -> Drawing:
    """Return the drawing of a bar of a cut plan, as it lies on its saw."""
    return bar_drawing(
        plant.lays.on_saw(_role(cut, plant)).bar(bar),
        width_nm=bar_width_nm(cut, plant),
        marks={item.piece: short_name(item.piece) for item in bar.pieces},
        unit=cut.job.unit,
        keep_from_nm=cut.job.keep_from_nm,
        language=language,
        title=ThingNames(plant, language).of(bar.id),
    )


def _role(cut: CutPlan, plant: Plant) -> Role:
    """What a material's pieces are: panels of either use lie alike, trims as their profile's."""
    name = Material.parse(cut.material).item
    return next((profile.use for profile in plant.profiles if profile.id == name), "wall_panel")


def bar_width_nm(cut: CutPlan, plant: Plant) -> Nm:
    """Return the width of a material's bars: the cover of a panel, the blank of a profile."""
    if cut.job.width_nm is not None:
        return cut.job.width_nm
    name = Material.parse(cut.material).item
    covers = {family.id: family.cover_nm for family in plant.families}
    blanks = {profile.id: profile.blank_nm for profile in plant.profiles}
    return covers.get(name) or blanks.get(name) or Nm(100_000_000)


def draw_stack(plan_id: str, order: str, bundle_id: str, view: View, language: Language, *, store: Store) -> Drawing:
    """Return the drawing of a bundle. Raises NotFound."""
    part = plan_part_about(plan_id, "stack", StackPart, order, store=store)
    return stack_drawing_of(_one("bundle", bundle_id, part.result.bundles, lambda bundle: bundle.id), part, view, language)


def stack_drawing_of(bundle: Bundle, part: StackPart, view: View, language: Language) -> Drawing:
    """Return the drawing of a bundle of an order's stacks."""
    pieces = {str(piece.id): piece for piece in part.job.pieces}
    limits = part.job.limits
    dunnage = (limits.dunnage_nm, limits.dunnage_width_nm)
    if view == "end":
        return stack_end_drawing(bundle, pieces, dunnage=dunnage, unit=part.job.unit, language=language)
    marks = {str(lay.piece): short_name(lay.piece) for lay in bundle.pieces}
    return stack_side_drawing(bundle, pieces, marks=marks, dunnage=dunnage, unit=part.job.unit, language=language)


def draw_deck(plan_id: str, order: str, load_id: str, view: View, language: Language, *, store: Store) -> Drawing:
    """Return the drawing of a load. Raises NotFound."""
    part = plan_part_about(plan_id, "load", LoadPart, order, store=store)
    return deck_drawing_of(_one("load", load_id, part.result.loads, lambda load: load.id), part, view, language)


def deck_drawing_of(
    load: Load, part: LoadPart, view: View, language: Language, on: frozenset[str] | None = None, next_on: str | None = None
) -> Drawing:
    """Return the drawing of a load; `on` and `next_on` as `deck_side_drawing` takes them."""
    draw = deck_plan_drawing if view == "above" else deck_side_drawing
    return draw(
        load,
        _one("deck", load.deck, part.job.decks, lambda deck: deck.id),
        {str(bundle.id): bundle for bundle in part.job.bundles},
        names={str(bundle.id): short_name(bundle.id) for bundle in part.job.bundles},
        unit=part.job.unit,
        language=language,
        on=on,
        next_on=next_on,
    )


def draw_group(plan_id: str, order: str, group: str, language: Language, *, store: Store) -> Drawing:
    """Return the elevation of a wall, or a roof plane square to itself. Raises NotFound."""
    takeoff = plan_part_about(plan_id, "takeoff", Takeoff, order, store=store)
    return group_drawing_of(takeoff, group, language, plan_plant(plan_id, store=store).unit)


def group_drawing_of(takeoff: Takeoff, group: str, language: Language, unit: Unit) -> Drawing:
    """Return the drawing of a wall or roof plane of a takeoff, its figures in a unit. Raises NotFound."""
    building = takeoff.building
    for wall in building.walls:
        if wall.id == group:
            return elevation_drawing(wall, takeoff.pieces, unit=unit, language=language)
    plane = _one("wall or roof plane", group, building.roof, lambda one: one.id)
    return roof_plane_drawing(plane, takeoff.pieces, unit=unit, language=language)


def _one(what: str, name: str, things: tuple[T, ...], name_of: Callable[[T], str]) -> T:
    for thing in things:
        if name_of(thing) == name:
            return thing
    raise NotFound(what, name)
