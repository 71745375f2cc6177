"""What a plan puts on the floor's pages: bars with their cuts, bundles, loads, each knowing where it goes next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cached_property
from typing import Literal
from zoneinfo import ZoneInfo

from service.contracts import floor
from service.usecases.ask.strokes import saw_strokes_by_piece
from solver.documents.lying import lay_of_piece, second_cuts
from solver.documents.numbering import CUTTING, BarNumber, number_bars
from solver.documents.saw import bar_cuts
from solver.documents.shared_blanks import shared_blank_note
from solver.domain.bundle import Bundle
from solver.domain.cut_plan import Bar, BarPiece, CutPlan
from solver.domain.dispatch import Departure
from solver.domain.document import SecondCut
from solver.domain.ids import BarId, piece_id
from solver.domain.kept_work import with_kept_bars
from solver.domain.lay import Lies
from solver.domain.load import Deck, Load, LoadJob, PlacedBundle
from solver.domain.piece import EdgeCut, Piece
from solver.domain.plan import LoadPart, Plan
from solver.domain.plant import Plant
from solver.units import Nm


class FloorRows:
    """The rows of a plan."""

    def __init__(self, plan: Plan, plant: Plant) -> None:
        self.plant = plant
        self._pieces: dict[str, Piece] = {piece.id: piece for takeoff in plan.takeoffs for piece in takeoff.pieces}
        self._orders = {takeoff.building.order for takeoff in plan.takeoffs}
        self._bundles = [bundle for part in plan.stacks for bundle in part.result.bundles]
        self._loads = [(part, load) for part in plan.loads for load in part.result.loads]
        self._sequences = plan.sequences
        self._cutting = [one for one in plan.timetable.operations if one.step in CUTTING]
        self._bars = [(cut, bar) for cut in with_kept_bars(plan.cuts, plan.kept) for bar in cut.bars]
        self._makings = {one.piece: one.making for one in plan.makings}
        departures = plan.dispatch.departures if plan.dispatch is not None else ()
        self._departs: dict[str, floor.Departs] = {
            one.load: _departs(one, plan.timetable.epoch, plant.time_zone) for one in departures
        }

    def bars(self) -> tuple[floor.Bar, ...]:
        """Return all bars, machine by machine, in cut order."""
        return self._made_bars

    def bundles(self) -> tuple[floor.Bundle, ...]:
        """Return all bundles, order by order, the first wanted first."""
        return tuple(self._bundle(bundle) for bundle in self._bundles)

    def loads(self) -> tuple[floor.Load, ...]:
        """Return all loads, the first to leave first."""
        sizes: dict[str, Bundle] = {bundle.id: bundle for bundle in self._bundles}
        made = [replace(_load(part, load, sizes), departs=self._departs.get(load.id)) for part, load in self._loads]
        turn = {name: n for n, name in enumerate(self._departs)}
        return tuple(sorted(made, key=lambda load: turn.get(load.id, len(turn))))

    @cached_property
    def _made_bars(self) -> tuple[floor.Bar, ...]:
        numbers = number_bars((bar for _, bar in self._bars), self._sequences, self._cutting)
        bars = {bar.id: (cut, bar) for cut, bar in self._bars}
        return tuple(self._bar(*bars[BarId(name)], number) for name, number in numbers.items())

    def _bar(self, cut: CutPlan, bar: Bar, number: BarNumber) -> floor.Bar:
        pieces = [self._pieces[item.piece] for item in bar.pieces]
        width = max((piece.width_nm for piece in pieces), default=cut.job.width_nm or Nm(1))
        lay = self.plant.lays.on_saw(pieces[0].role)
        named: dict[str, Piece] = {item.piece: piece for item, piece in zip(bar.pieces, pieces, strict=True)}
        seconds = {item.piece: second_cuts(self.plant, bar, item, named) for item in bar.pieces}
        cuts = bar_cuts(self.plant, bar, named, kerf_nm=cut.job.kerf_nm)
        bar = lay.bar(bar)
        strokes = saw_strokes_by_piece(cuts, {item.piece: item.edge_a[0] for item in bar.pieces})
        many = len(self._orders) > 1
        marks = {piece.id: str(piece_id(piece.order, piece.mark)) if many else piece.mark for piece in pieces}
        lie = [lay_of_piece(self.plant, piece, lay.turned(item.turn)) for item, piece in zip(bar.pieces, pieces, strict=True)]
        panel = any(piece.is_panel for piece in pieces)
        keep_from = cut.job.keep_from_nm or (self.plant.keeping.panel_from_nm if panel else self.plant.keeping.trim_from_nm)
        return floor.Bar(
            id=bar.id,
            machine=number.machine,
            position=number.at,
            of=number.of,
            material=bar.material,
            stock=bar.stock,
            length_nm=bar.length_nm,
            width_nm=width,
            drop_nm=bar.drop_nm,
            keep_drop=bar.drop_nm >= keep_from,
            lies=replace(lay_of_piece(self.plant, pieces[0], lay, whole=True), square=all(one.square for one in lie)),
            cuts=tuple(
                self._cut(
                    n,
                    piece,
                    item,
                    strokes.get(piece.id, ()),
                    shared_blank_note(bar, item, marks),
                    lies=lies,
                    seconds=seconds[piece.id],
                )
                for n, (piece, item, lies) in enumerate(zip(pieces, bar.pieces, lie, strict=True), start=1)
            ),
        )

    def _cut(
        self,
        n: int,
        piece: Piece,
        item: BarPiece,
        strokes: tuple[floor.SawStroke, ...],
        way: str,
        *,
        lies: Lies,
        seconds: tuple[SecondCut, ...],
    ) -> floor.PlannedCut:
        bundle, place, of = self._lies_in.get(piece.id, (None, None, None))
        lift = self.plant.lift(piece.weight_g)
        return floor.PlannedCut(
            n=n,
            piece=piece.id,
            mark=piece.mark,
            order=piece.order,
            making=self._makings.get(piece.id, 1),
            turn=item.turn,
            edge_a_nm=item.edge_a,
            edge_b_nm=item.edge_b,
            length_nm=piece.length_nm,
            width_nm=piece.width_nm,
            weight_g=piece.weight_g,
            stands=piece.stands,
            closing=piece.closing,
            crew=lift.people if lift.by == "hands" else 0,
            lift=lift,
            lies=lies,
            seconds=seconds,
            strokes=strokes,
            bundle=bundle,
            bundle_place=place,
            bundle_of=of,
            next_work=next_work(piece),
            notes=(way, *piece.notes) if way else piece.notes,
        )

    @cached_property
    def _lies_in(self) -> dict[str, tuple[str | None, int | None, int | None]]:
        return {
            lay.piece: (bundle.id, n, len(bundle.pieces))
            for bundle in self._bundles
            for n, lay in enumerate(bundle.pieces, start=1)
        }

    @cached_property
    def _rides_on(self) -> dict[str, tuple[str, int]]:
        return {placed.bundle: (load.id, n) for _, load in self._loads for n, placed in enumerate(load.placed, start=1)}

    def _bundle(self, bundle: Bundle) -> floor.Bundle:
        load, place = self._rides_on.get(bundle.id, (None, None))
        pieces = []
        for n, lay in enumerate(bundle.pieces, start=1):
            piece = self._pieces[lay.piece]
            pieces.append(
                floor.BundlePiece(
                    piece=piece.id,
                    mark=piece.mark,
                    place=n,
                    at_nm=lay.at_nm,
                    across_nm=lay.across_nm,
                    up_nm=lay.up_nm,
                    length_nm=piece.length_nm,
                    width_nm=piece.width_nm,
                    thickness_nm=piece.thickness_nm,
                    weight_g=piece.weight_g,
                    stands=piece.stands,
                )
            )
        return floor.Bundle(
            id=bundle.id,
            order=bundle.order or "",
            kind=bundle.kind,
            serial=bundle.serial,
            length_nm=bundle.length_nm,
            width_nm=bundle.width_nm,
            height_nm=bundle.height_nm,
            weight_g=bundle.weight_g,
            centre_nm=bundle.centre_nm,
            first_stands=bundle.first_stands,
            load=load,
            load_place=place,
            pieces=tuple(pieces),
            dunnage_nm=bundle.dunnage_nm,
            notes=bundle.notes,
        )


def next_work(piece: Piece) -> tuple[floor.NextWork, ...]:
    """Return what is left to do to a piece after this saw: rips and mitres, slopes, openings, pockets, holes."""
    made = [_edge_work("left", piece.left), _edge_work("right", piece.right)]
    if piece.peak_nm is not None and piece.is_panel:
        made.append(floor.NextWork(at="panel_saw", what="slopes"))
    openings = tuple(sorted({cutout.opening for cutout in piece.cutouts}))
    if openings:
        made.append(floor.NextWork(at="router", what="opening", count=len(openings), names=openings))
    pockets = sum(1 for hole in piece.holes if hole.kind == "pocket")
    if pockets:
        made.append(floor.NextWork(at="router", what="pocket", count=pockets))
    if len(piece.holes) > pockets:
        made.append(floor.NextWork(at="drill", what="hole", count=len(piece.holes) - pockets))
    return tuple(one for one in made if one is not None)


def _edge_work(edge: Literal["left", "right"], cut: EdgeCut) -> floor.NextWork | None:
    if cut.kind == "mitre":
        return floor.NextWork(at="bevel_saw", what="mitre", edge=edge, bevel_udeg=cut.bevel_udeg)
    return floor.NextWork(at="bevel_saw", what="rip", edge=edge) if cut.kind == "rip" else None


def _departs(one: Departure, epoch: str, zone: str) -> floor.Departs:
    def clock(seconds: int) -> str:
        return (datetime.fromisoformat(epoch) + timedelta(seconds=seconds)).astimezone(ZoneInfo(zone)).isoformat()

    return floor.Departs(
        door=one.door,
        ready_at=clock(one.ready_s),
        starts_at=clock(one.start_s),
        leaves_at=clock(one.leave_s),
        arrives_at=clock(one.arrive_s),
        leave_by=None if one.leave_by_s is None else clock(one.leave_by_s),
        need_by=None if one.need_by_s is None else clock(one.need_by_s),
        late_s=one.late_s,
        deliveries=one.deliveries,
    )


def _load(part: LoadPart, load: Load, sizes: dict[str, Bundle]) -> floor.Load:
    deck = _deck(part.job, load.deck)
    on = [_on_deck(n, placed, sizes[placed.bundle]) for n, placed in enumerate(load.placed, start=1)]
    whole = [axle for axle in load.axles if axle.after == 0]
    return floor.Load(
        id=load.id,
        order=part.order,
        name=part.order,
        deck=load.deck,
        deck_length_nm=deck.length_nm,
        deck_width_nm=deck.width_nm,
        weight_g=load.weight_g,
        tiedowns=load.tiedowns.required if load.tiedowns else 0,
        tiedown_rule=load.tiedowns.rule if load.tiedowns else "",
        bundles=tuple(replace(one, stands_on=_under(one, on)) for one in on),
        axles=tuple(floor.Axle(group=axle.group, weight_g=axle.weight_g, limit_g=axle.limit_g) for axle in whole),
        notes=load.notes,
        tiedown_positions_nm=load.tiedowns.positions_nm if load.tiedowns else (),
    )


def _deck(job: LoadJob, name: str) -> Deck:
    return next(deck for deck in job.decks if deck.id == name)


def _on_deck(place: int, placed: PlacedBundle, bundle: Bundle) -> floor.OnDeck:
    return floor.OnDeck(
        bundle=bundle.id,
        place=place,
        x_nm=placed.x_nm,
        y_nm=placed.y_nm,
        z_nm=placed.z_nm,
        length_nm=bundle.length_nm,
        width_nm=bundle.width_nm,
        height_nm=bundle.height_nm,
        weight_g=bundle.weight_g,
        serial=bundle.serial,
        pieces=len(bundle.pieces),
        uncut=0,
    )


def _under(one: floor.OnDeck, others: Sequence[floor.OnDeck]) -> tuple[str, ...]:
    """The bundles whose top this one's foot rests on: they overlap seen from above and lie lower."""
    return tuple(
        other.bundle
        for other in others
        if other.z_nm < one.z_nm
        and other.x_nm < one.x_nm + one.length_nm
        and one.x_nm < other.x_nm + other.length_nm
        and other.y_nm < one.y_nm + one.width_nm
        and one.y_nm < other.y_nm + other.width_nm
    )
