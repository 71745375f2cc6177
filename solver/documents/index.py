"""A plan looked up by piece, bar, bundle and load: what every document needs to say where a thing is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

from solver.documents.names import ThingNames
from solver.documents.numbering import BarNumber, number_bars
from solver.domain.building import Building
from solver.domain.bundle import Bundle, StackPiece
from solver.domain.cut_plan import Bar
from solver.domain.ids import piece_id, short_name
from solver.domain.load import Load
from solver.domain.piece import Piece
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from solver.domain.stock import StockSnapshot
from solver.domain.takeoff import Drop
from solver.language import ENGLISH, Language


@dataclass(frozen=True)
class PlanIndex:
    """A plan with its plant, and look-ups made once when first asked for."""

    plan: Plan
    plant: Plant
    language: Language = ENGLISH  # of the names that it gives
    drawn_on: StockSnapshot | None = None  # the stock that the plan was made from; absent: what the catalog states

    @property
    def stock(self) -> StockSnapshot:
        """The stock that the plan was made from."""
        return self.plant.stated_stock if self.drawn_on is None else self.drawn_on

    @cached_property
    def names(self) -> ThingNames:
        """What people call materials, bars and lots."""
        return ThingNames(self.plant, self.language, self.numbers)

    @cached_property
    def pieces(self) -> Mapping[str, Piece]:
        """Every piece by id, in order of standing within its order."""
        return MappingProxyType(
            {
                piece.id: piece
                for takeoff in self.plan.takeoffs
                for piece in sorted(takeoff.pieces, key=lambda piece: (piece.stands, piece.id))
            }
        )

    @cached_property
    def bars(self) -> Mapping[str, tuple[Bar, int]]:
        """The bar of each piece id, and the piece's place on it from 1."""
        return MappingProxyType(
            {slot.piece: (bar, n) for cut in self.plan.cuts for bar in cut.bars for n, slot in enumerate(bar.pieces, 1)}
        )

    @cached_property
    def laid(self) -> Mapping[str, tuple[str, ...]]:
        """The piece ids of each bar id, along the bar."""
        bars = (bar for cut in self.plan.cuts for bar in cut.bars)
        return MappingProxyType({bar.id: tuple(slot.piece for slot in bar.pieces) for bar in bars})

    @cached_property
    def numbers(self) -> Mapping[str, BarNumber]:
        """The machine of each bar id and which of its bars it is, machine by machine, in cut order."""
        bars = (bar for cut in self.plan.cuts for bar in cut.bars)
        return MappingProxyType(dict(number_bars(bars, self.plan.sequences, self.plan.timetable.operations)))

    @property
    def many(self) -> bool:
        """Whether the plan is of several orders: marks and bundles are told with their order then."""
        return len(self.plan.takeoffs) > 1

    def name_of(self, piece: Piece) -> str:
        """Return a piece's name where it cannot be mistaken: its mark, with its order where there are several."""
        return piece_id(piece.order, piece.mark) if self.many else piece.mark

    def bundle_name_of(self, piece_id: str) -> str:
        """Return the name of a piece's bundle where it cannot be mistaken; empty without one."""
        bundle, _ = self.places.get(piece_id, (None, 0))
        if bundle is None:
            return ""
        return str(bundle.id) if self.many else short_name(bundle.id)

    @cached_property
    def bundles(self) -> Mapping[str, Bundle]:
        """Every bundle by id, in order of need."""
        return MappingProxyType({bundle.id: bundle for part in self.plan.stacks for bundle in part.result.bundles})

    @cached_property
    def places(self) -> Mapping[str, tuple[Bundle, int]]:
        """The bundle of each piece id, and the piece's place in it from the top, from 1."""
        return MappingProxyType(
            {lay.piece: (bundle, n) for bundle in self.bundles.values() for n, lay in enumerate(reversed(bundle.pieces), 1)}
        )

    @cached_property
    def stack_pieces(self) -> Mapping[str, StackPiece]:
        """Every piece as bundling sees it, by id."""
        return MappingProxyType({piece.id: piece for part in self.plan.stacks for piece in part.job.pieces})

    @cached_property
    def loads(self) -> Mapping[str, Load]:
        """The load of each bundle id."""
        return MappingProxyType(
            {placed.bundle: load for part in self.plan.loads for load in part.result.loads for placed in load.placed}
        )

    @cached_property
    def drops(self) -> Mapping[str, tuple[Drop, ...]]:
        """What falls out of each piece at its openings, by piece id."""
        found: dict[str, list[Drop]] = {}
        for takeoff in self.plan.takeoffs:
            for drop in takeoff.drops:
                found.setdefault(drop.piece, []).append(drop)
        return MappingProxyType({piece: tuple(drops) for piece, drops in found.items()})

    @cached_property
    def makings(self) -> Mapping[str, int]:
        """Which time a piece is made, by piece id, for those that are made again."""
        return MappingProxyType({making.piece: making.making for making in self.plan.makings})

    @cached_property
    def labelled_pieces(self) -> frozenset[str]:
        """The pieces that an earlier release printed labels for, and that this plan leaves as they are."""
        kept = self.plan.kept
        return frozenset() if kept is None else frozenset((*kept.made, *(i.piece for one in kept.bars for i in one.bar.pieces)))

    @cached_property
    def buildings(self) -> Mapping[str, Building]:
        """Every building by order id."""
        return MappingProxyType({takeoff.building.order: takeoff.building for takeoff in self.plan.takeoffs})
