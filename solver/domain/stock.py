"""Stock that is there: things with a running number, as the stock ledger keeps them, and what a plan may draw on."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Literal

from solver.domain.cut_plan import Joints, Remnant
from solver.domain.ids import CoilId, MaterialId, StockId
from solver.field_limits import Description, ExclusiveMinimum, Minimum, TextPattern
from solver.units import Grams, Nm

StockKind = Literal["lot", "remnant", "drop", "coil", "strip", "block"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StockItem:
    """One thing, or a lot of equal things, that is in the plant or on its way: what it is, how much, where, where from.

    `lot`: stock lengths of a material (family or profile with colours), counted. `remnant`: what is left of a bar, `drop`:
    what fell out of an opening; each counted too, mostly one. `coil`: sheet of a colour, by weight. `strip`: a coil slit to
    the blank of a profile. `block`: core of a grade, by volume. `count` is what is there, work in hand aside: bars that were
    begun are drawn and no more in it. `reserved` is how many of `count` releases hold for bars that are not begun.
    """

    item: Annotated[int, Minimum(1), Description("running number of the plant, on its label")]
    kind: StockKind
    material: Annotated[MaterialId, Description("as bars name it; of a coil or strip its colour, of a block the grade of core")]
    length_nm: (
        Annotated[Nm, ExclusiveMinimum(0), Description("of a lot, remnant or drop; of a coil or strip where it is known")]
        | None
    ) = None
    count: Annotated[int, Description("how many are there; below 0: more was drawn than was booked, to be counted")] = 1
    reserved: Annotated[int, Minimum(0)] = 0
    place: Annotated[str, Description("rack and slot")] | None = None
    source: Annotated[str, Description("the bar, the delivery or the opening that it came from")] | None = field(
        default=None, metadata={"json": "from"}
    )
    width_nm: (
        Annotated[Nm, ExclusiveMinimum(0), Description("of a remnant ripped narrower than its panel, of a drop, coil or strip")]
        | None
    ) = None
    joints: Annotated[Joints, Description("the joints that a remnant or drop keeps")] = "both"
    put_away: Annotated[str, TextPattern(r"\d{4}-\d\d-\d\d", "a date such as 2031-04-28")] | None = None
    ready: Annotated[str, Description("when it arrives or is seasoned, ISO 8601 with offset; absent: it is")] | None = None
    thickness_nm: Annotated[Nm, ExclusiveMinimum(0), Description("of sheet")] | None = None
    weight_g: Annotated[Grams, Minimum(0), Description("of a coil or strip")] | None = None
    litres: Annotated[int, Minimum(0), Description("of a block")] | None = None
    batch: Annotated[str, Description("of a coil's colour")] | None = None
    heat: Annotated[str, Description("of a coil's steel")] | None = None

    @property
    def unreserved(self) -> int:
        """How many nobody holds; at least 0."""
        return max(0, self.count - self.reserved)


@dataclass(frozen=True, slots=True, kw_only=True)
class StockOnHand:
    """Full bars on the rack: material (family or profile, colours), length and how many."""

    material: MaterialId
    length_nm: Annotated[Nm, ExclusiveMinimum(0)]
    count: Annotated[int, Minimum(0)]
    id: Annotated[StockId, Description("how a plan names it; absent: by its length and its place in the list")] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Coil:
    """A coil on hand, traceable by its heat."""

    id: CoilId
    heat: str
    width_nm: Annotated[Nm, ExclusiveMinimum(0)]
    thickness_nm: Annotated[Nm, ExclusiveMinimum(0)]
    colour: str
    batch: str
    weight_g: Annotated[Grams, Minimum(0)]
    arrives: Annotated[str, Description("ISO 8601 with offset; absent: on hand")] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CoreStock:
    """Core of one grade that is seasoned, or will be."""

    core: Annotated[str, Description("grade, as panel families name it")]
    litres: Annotated[int, Minimum(0)]
    ready: Annotated[str, Description("when it is seasoned, ISO 8601 with offset; absent: now")] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StockSnapshot:
    """What a plan may draw on, at an instant: bars and remnants on the rack, coil and core on hand or on their way.

    Catalogs say what can be bought and made; this says what is there. What bars hold that stay, is no more in it.
    """

    at: str | None = None  # ISO 8601 with offset; None: as the catalog's file states it, undated
    bars: tuple[StockOnHand, ...] = ()
    remnants: tuple[Remnant, ...] = ()
    coils: tuple[Coil, ...] = ()
    cores: tuple[CoreStock, ...] = ()
    drops_kept: int = 0  # slots of the rack that drops of bars planned before take, remnants that these bars used given back
