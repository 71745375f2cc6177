"""What the floor's pages read: bars and cuts, bundles and loads of a released plan, a page's worth at a time."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from typing import Any, TypeVar, cast

from sqlalchemy import ColumnElement, Connection, Row, and_, exists, func, insert, or_, select

from service.contracts.floor import Bar, Bundle, Cut, Load
from service.errors import NotFound
from service.store.tables import bars, bundle_pieces, bundles, cuts, events, loads
from solver.codec import decode, encode

T = TypeVar("T")


class SqlFloor:
    """The released plan's rows; what happened to them is in the ledger."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def written(self, plan_id: str) -> bool:
        """Return whether a plan's rows are there already."""
        return self._connection.execute(select(bars.c.id).where(bars.c.plan == plan_id).limit(1)).first() is not None

    def write(self, plan_id: str, rows: Sequence[Bar], stacks: Sequence[Bundle], trucks: Sequence[Load]) -> None:
        """Write a plan's rows for the pages to read."""
        self._many(bars, [_bar_row(plan_id, bar) for bar in rows])
        self._many(cuts, [_cut_row(plan_id, bar, cut) for bar in rows for cut in bar.cuts])
        self._many(loads, [_load_row(plan_id, n, load) for n, load in enumerate(trucks)])
        self._many(bundles, [_bundle_row(plan_id, n, bundle) for n, bundle in enumerate(stacks)])
        lays = [
            {"plan": plan_id, "bundle": bundle.id, "place": piece.place, "piece": piece.piece}
            for bundle in stacks
            for piece in bundle.pieces
        ]
        self._many(bundle_pieces, lays)

    def _many(self, table: Any, rows: list[dict[str, Any]]) -> None:
        if rows:
            self._connection.execute(insert(table), rows)

    def machines(self, plan_id: str) -> tuple[str, ...]:
        """Return the machines that have bars, by name."""
        asked = select(bars.c.machine).where(bars.c.plan == plan_id).distinct().order_by(bars.c.machine)
        return tuple(self._connection.execute(asked).scalars())

    def bars(self, plan_id: str, machine: str | None, after: int, limit: int) -> tuple[Bar, ...]:
        """Return bars in cut order, after a position on each machine."""
        asked = select(bars.c.id, bars.c.body).where(bars.c.plan == plan_id, bars.c.position > after)
        if machine is not None:
            asked = asked.where(bars.c.machine == machine)
        rows = self._connection.execute(asked.order_by(bars.c.machine, bars.c.position).limit(limit)).all()
        return self._with_cuts(plan_id, rows)

    def bar(self, plan_id: str, bar_id: str) -> Bar:
        """Return one bar. Raises NotFound."""
        asked = select(bars.c.id, bars.c.body).where(bars.c.plan == plan_id, bars.c.id == bar_id)
        made = self._with_cuts(plan_id, self._connection.execute(asked).all())
        if not made:
            raise NotFound("bar", bar_id)
        return made[0]

    def next_bar(self, plan_id: str, machine: str) -> Bar | None:
        """Return the first bar of a machine with a cut, or a drop to keep, that nothing was reported of."""
        open_cut = exists().where(
            cuts.c.plan == bars.c.plan, cuts.c.bar == bars.c.id, ~_happened(cuts.c.piece, "cut", "scrapped")
        )
        open_drop = and_(bars.c.keep_drop, ~_happened(bars.c.id, "drop_put_away", "scrapped"))
        asked = (
            select(bars.c.id, bars.c.body)
            .where(bars.c.plan == plan_id, bars.c.machine == machine, or_(open_cut, open_drop))
            .order_by(bars.c.position)
            .limit(1)
        )
        made = self._with_cuts(plan_id, self._connection.execute(asked).all())
        return made[0] if made else None

    def bars_left(self, plan_id: str) -> dict[str, tuple[int, int]]:
        """Return, by machine, how many bars have a cut that nothing was reported of, and how many there are."""
        open_cut = exists().where(
            cuts.c.plan == bars.c.plan, cuts.c.bar == bars.c.id, ~_happened(cuts.c.piece, "cut", "scrapped")
        )
        asked = select(bars.c.machine, func.count()).where(bars.c.plan == plan_id).group_by(bars.c.machine)
        left = {str(row[0]): int(row[1]) for row in self._connection.execute(asked.where(open_cut))}
        return {str(row[0]): (left.get(str(row[0]), 0), int(row[1])) for row in self._connection.execute(asked)}

    def _with_cuts(self, plan_id: str, rows: Sequence[Row[*tuple[Any, ...]]]) -> tuple[Bar, ...]:
        ids = [row.id for row in rows]
        asked = (
            select(cuts.c.bar, cuts.c.body).where(cuts.c.plan == plan_id, cuts.c.bar.in_(ids)).order_by(cuts.c.bar, cuts.c.n)
        )
        found: dict[str, list[Cut]] = {}
        for row in self._connection.execute(asked):
            found.setdefault(row.bar, []).append(_decoded(Cut, row.body))
        return tuple(replace(_decoded(Bar, row.body), cuts=tuple(found.get(row.id, ()))) for row in rows)

    def bundles(self, plan_id: str, *, after: int = -1, limit: int = 500) -> tuple[Bundle, ...]:
        """Return bundles in order of need."""
        asked = select(bundles.c.body).where(bundles.c.plan == plan_id, bundles.c.position > after)
        rows = self._connection.execute(asked.order_by(bundles.c.position).limit(limit))
        return tuple(_decoded(Bundle, row.body) for row in rows)

    def bundle(self, plan_id: str, bundle_id: str) -> Bundle:
        """Return one bundle. Raises NotFound."""
        asked = select(bundles.c.body).where(bundles.c.plan == plan_id, bundles.c.id == bundle_id)
        found = self._connection.execute(asked).scalar_one_or_none()
        if found is None:
            raise NotFound("bundle", bundle_id)
        return _decoded(Bundle, found)

    def bundle_named(self, plan_id: str, name: str) -> str | None:
        """Return the bundle of an id or of an 18-digit serial."""
        named = or_(bundles.c.id == name, and_(bundles.c.serial == name, bundles.c.serial != ""))
        asked = select(bundles.c.id).where(bundles.c.plan == plan_id, named)
        return self._connection.execute(asked.limit(1)).scalar_one_or_none()

    def piece_ids(self, plan_id: str) -> tuple[str, ...]:
        """Return the ids of all pieces."""
        asked = select(bundle_pieces.c.piece).where(bundle_pieces.c.plan == plan_id)
        return tuple(self._connection.execute(asked.order_by(bundle_pieces.c.piece)).scalars())

    def home_of(self, plan_id: str, piece: str) -> tuple[str | None, str | None]:
        """Return the bar that a piece is cut from and the bundle that it goes to; None where the plan has none."""
        bar = select(cuts.c.bar).where(cuts.c.plan == plan_id, cuts.c.piece == piece).limit(1)
        bundle = select(bundle_pieces.c.bundle).where(bundle_pieces.c.plan == plan_id, bundle_pieces.c.piece == piece).limit(1)
        run = self._connection.execute
        return run(bar).scalar_one_or_none(), run(bundle).scalar_one_or_none()

    def loads(self, plan_id: str) -> tuple[Load, ...]:
        """Return all loads, in the plan's order."""
        asked = select(loads.c.body).where(loads.c.plan == plan_id).order_by(loads.c.position)
        return tuple(_decoded(Load, row.body) for row in self._connection.execute(asked))

    def load(self, plan_id: str, load_id: str) -> Load:
        """Return one load. Raises NotFound."""
        asked = select(loads.c.body).where(loads.c.plan == plan_id, loads.c.id == load_id)
        found = self._connection.execute(asked).scalar_one_or_none()
        if found is None:
            raise NotFound("load", load_id)
        return _decoded(Load, found)

    def pieces_in(self, plan_id: str, bundle_ids: Sequence[str]) -> dict[str, list[str]]:
        """Return the pieces of some bundles, bottom first."""
        asked = (
            select(bundle_pieces.c.bundle, bundle_pieces.c.piece)
            .where(bundle_pieces.c.plan == plan_id, bundle_pieces.c.bundle.in_(list(bundle_ids)))
            .order_by(bundle_pieces.c.bundle, bundle_pieces.c.place)
        )
        made: dict[str, list[str]] = {}
        for row in self._connection.execute(asked):
            made.setdefault(row.bundle, []).append(row.piece)
        return made

    def is_bar(self, plan_id: str, subject: str) -> bool:
        """Return whether a name is that of a bar."""
        asked = select(bars.c.position).where(bars.c.plan == plan_id, bars.c.id == subject)
        return self._connection.execute(asked).first() is not None

    def knows(self, plan_id: str, subject: str) -> bool:
        """Return whether the plan names a piece, bar, bundle or load."""
        asked = (
            select(cuts.c.n).where(cuts.c.plan == plan_id, cuts.c.piece == subject),
            select(bars.c.position).where(bars.c.plan == plan_id, bars.c.id == subject),
            select(bundles.c.position).where(bundles.c.plan == plan_id, bundles.c.id == subject),
            select(loads.c.position).where(loads.c.plan == plan_id, loads.c.id == subject),
        )
        return any(self._connection.execute(one.limit(1)).first() is not None for one in asked)


def _happened(subject: Any, *kinds: str) -> ColumnElement[bool]:
    undoing = events.alias()
    undone = exists().where(undoing.c.kind == "undone", undoing.c.about == events.c.id)
    return cast("ColumnElement[bool]", exists().where(events.c.subject == subject, events.c.kind.in_(kinds), ~undone))


def _body(value: Any) -> str:
    return json.dumps(encode(value, unit="mm"), ensure_ascii=False)


def _decoded(kind: type[T], body: str) -> T:
    return decode(kind, json.loads(body), name="row", unit="mm")


def _bar_row(plan_id: str, bar: Bar) -> dict[str, Any]:
    body = _body(replace(bar, cuts=()))
    return {
        "plan": plan_id,
        "id": bar.id,
        "machine": bar.machine,
        "position": bar.position,
        "keep_drop": bar.keep_drop,
        "body": body,
    }


def _cut_row(plan_id: str, bar: Bar, cut: Cut) -> dict[str, Any]:
    return {"plan": plan_id, "bar": bar.id, "n": cut.n, "piece": cut.piece, "body": _body(cut)}


def _load_row(plan_id: str, position: int, load: Load) -> dict[str, Any]:
    return {"plan": plan_id, "id": load.id, "position": position, "body": _body(load)}


def _bundle_row(plan_id: str, position: int, bundle: Bundle) -> dict[str, Any]:
    return {
        "plan": plan_id,
        "id": bundle.id,
        "position": position,
        "serial": bundle.serial,
        "load": bundle.load,
        "load_place": bundle.load_place,
        "body": _body(bundle),
    }
