"""What the floor's pages read: bars and cuts, bundles and loads of a released plan, a page's worth at a time."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import count
from typing import Any, Literal, TypeVar, cast

from sqlalchemy import ColumnElement, Connection, Row, and_, exists, func, or_, select

from service.contracts.floor import Bar, Bundle, Load, PlannedCut
from service.contracts.scan import ThingCalled
from service.errors import NotFound
from service.lru_cache import LruCache
from service.ports import FloorPageRows, NumberedBar
from service.store.engine import insert_many
from service.store.events import SAME, UNDONE, is_same_bar
from service.store.tables import bars, bundle_pieces, bundles, cuts, events, loads, piece_states, releases
from service.stored_form import UnreadableStored, from_stored_text
from solver.book.things import book_bar_name, pieces_digest
from solver.domain.event import AnyEvent, BarBegun, BarNotInRack, BundleClosed, Cut, DropBinned, DropPutAway, On, Scrapped
from solver.domain.ids import order_of

T = TypeVar("T")
EARLIER: LruCache = LruCache(8)  # loads of earlier releases, by the newest release: asked for with every bundle that is told of
HOMES: LruCache = LruCache(8)  # bundles and loads of all releases, by the newest of them
OPEN = ~exists().where(  # a cut that is to come: nothing was told of this making of its piece
    piece_states.c.name == cuts.c.piece, or_(piece_states.c.making > cuts.c.making, piece_states.c.state != "wanted")
)
ROWS = LruCache(4_096)  # rows as they are read, by their whole text: reading it takes longer than fetching it


class SqlFloor:
    """The released plan's rows; what happened to them is in the ledger."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def written(self, plan_id: str) -> bool:
        """Return whether a plan's rows are there already."""
        return self._connection.execute(select(bars.c.id).where(bars.c.plan == plan_id).limit(1)).first() is not None

    def write(self, plan_id: str, rows: FloorPageRows) -> None:
        """Write a plan's rows for the pages to read."""
        ahead = count(self.last_bar() + 1)
        insert_many(
            self._connection,
            bars,
            ("plan", "id", "machine", "position", "keep_drop", "pieces_digest", "number", "body"),
            [
                (
                    plan_id,
                    bar.id,
                    bar.machine,
                    bar.position,
                    bar.keep_drop,
                    pieces_digest(cut.piece for cut in bar.cuts),
                    rows.numbers.get(bar.id) or next(ahead),
                    text,
                )
                for bar, text in rows.bars
            ],
        )
        insert_many(
            self._connection,
            cuts,
            ("plan", "bar", "n", "piece", "making", "body"),
            [(plan_id, bar, cut.n, cut.piece, cut.making, text) for bar, cut, text in rows.cuts],
        )
        insert_many(
            self._connection,
            loads,
            ("plan", "id", "position", "body"),
            [(plan_id, load.id, n, text) for n, (load, text) in enumerate(rows.loads)],
        )
        insert_many(
            self._connection,
            bundles,
            ("plan", "id", "position", "serial", "load", "load_place", "body"),
            [
                (plan_id, bundle.id, n, bundle.serial, bundle.load, bundle.load_place, text)
                for n, (bundle, text) in enumerate(rows.bundles)
            ],
        )
        insert_many(
            self._connection,
            bundle_pieces,
            ("plan", "bundle", "place", "piece", "code"),
            [
                (plan_id, bundle.id, piece.place, piece.piece, rows.codes.get(piece.piece))
                for bundle, _ in rows.bundles
                for piece in bundle.pieces
            ],
        )

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
        open_cut = exists().where(cuts.c.plan == bars.c.plan, cuts.c.bar == bars.c.id, OPEN)
        open_drop = and_(bars.c.keep_drop, ~_happened(bars.c.id, "drop_put_away", "scrapped", of=is_same_bar(bars)))
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
        open_cut = exists().where(cuts.c.plan == bars.c.plan, cuts.c.bar == bars.c.id, OPEN)
        asked = select(bars.c.machine, func.count()).where(bars.c.plan == plan_id).group_by(bars.c.machine)
        left = {str(row[0]): int(row[1]) for row in self._connection.execute(asked.where(open_cut))}
        return {str(row[0]): (left.get(str(row[0]), 0), int(row[1])) for row in self._connection.execute(asked)}

    def _with_cuts(self, plan_id: str, rows: Sequence[Row[*tuple[Any, ...]]]) -> tuple[Bar, ...]:
        ids = [row.id for row in rows]
        asked = (
            select(cuts.c.bar, cuts.c.body).where(cuts.c.plan == plan_id, cuts.c.bar.in_(ids)).order_by(cuts.c.bar, cuts.c.n)
        )
        found: dict[str, list[PlannedCut]] = {}
        for row in self._connection.execute(asked):
            found.setdefault(row.bar, []).append(_decoded(PlannedCut, row.body))
        return tuple(replace(_decoded(Bar, row.body), cuts=tuple(found.get(row.id, ()))) for row in rows)

    def bundles(self, plan_id: str, names: Collection[str]) -> tuple[Bundle, ...]:
        """Return those of some bundles that a plan has, in order of need."""
        asked = select(bundles.c.body).where(bundles.c.plan == plan_id, bundles.c.id.in_(list(names)))
        return tuple(_decoded(Bundle, row.body) for row in self._connection.execute(asked.order_by(bundles.c.position)))

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

    def called(self, plan_id: str, short: str) -> tuple[tuple[ThingCalled, str], ...]:
        """Return kind and id of each piece, bundle and load that is called so behind its order, in any case of letters."""
        found: list[tuple[ThingCalled, str]] = []
        columns: tuple[tuple[ThingCalled, Any, Any], ...] = (
            ("piece", bundle_pieces.c.plan, bundle_pieces.c.piece),
            ("bundle", bundles.c.plan, bundles.c.id),
            ("load", loads.c.plan, loads.c.id),
        )
        for kind, plan, name in columns:
            so_called = func.lower(name).endswith(f"/{short.lower()}", autoescape=True)
            asked = select(name).distinct().where(plan == plan_id, so_called).order_by(name)
            found += [(kind, one) for one in self._connection.execute(asked).scalars()]
        return tuple(found)

    def pieces_of_code(self, plan_id: str, code: str) -> tuple[str, ...]:
        """Return the pieces that the digits before a label's check digits stand for: more than one where two names meet."""
        asked = select(bundle_pieces.c.piece).where(bundle_pieces.c.plan == plan_id, bundle_pieces.c.code == code)
        return tuple(self._connection.execute(asked).scalars())

    def pieces_without_code(self, plan_id: str) -> tuple[str, ...]:
        """Return the pieces of a plan that was released before codes were kept."""
        asked = select(bundle_pieces.c.piece).where(bundle_pieces.c.plan == plan_id, bundle_pieces.c.code.is_(None))
        return tuple(self._connection.execute(asked).scalars())

    def load_of(self, plan_id: str, bundle_id: str) -> str | None:
        """Return the load that the plan puts a bundle on, or None."""
        asked = select(bundles.c.load).where(bundles.c.plan == plan_id, bundles.c.id == bundle_id)
        return self._connection.execute(asked).scalar_one_or_none()

    def bar_and_bundle_of(self, plan_id: str, piece: str) -> tuple[str | None, str | None]:
        """Return the bar that a piece is cut from and the bundle that it goes to; None where the plan has none."""
        bar = select(cuts.c.bar).where(cuts.c.plan == plan_id, cuts.c.piece == piece).limit(1)
        bundle = select(bundle_pieces.c.bundle).where(bundle_pieces.c.plan == plan_id, bundle_pieces.c.piece == piece).limit(1)
        run = self._connection.execute
        return run(bar).scalar_one_or_none(), run(bundle).scalar_one_or_none()

    def loads_of_earlier_releases(self) -> tuple[tuple[str, str], ...]:
        """Return the plan and id of each load of earlier releases that has not left, of orders that the floor's plan has not.

        Of an order the newest release that has it counts.
        """
        last = select(releases.c.number, releases.c.plan, releases.c.released_at).order_by(releases.c.number.desc()).limit(1)
        now = self._connection.execute(last).one_or_none()
        if now is None:
            return ()
        key = str(self._connection.engine.url), *now
        found = EARLIER.get(key, lambda: self._of_earlier_releases(now.plan))
        if not found:
            return ()
        left = frozenset(
            self._connection.execute(select(events.c.subject).where(events.c.kind.in_(SAME["shipped"]), ~UNDONE)).scalars()
        )
        return tuple(one for one in found if one[1] not in left)

    def _of_earlier_releases(self, now: str) -> tuple[tuple[str, str], ...]:
        """The plan and id of each load of an order that the plan has not, of the newest release that has it."""
        number = func.max(releases.c.number).label("number")
        asked = select(number, loads.c.plan, loads.c.id).join(releases, releases.c.plan == loads.c.plan)
        rows = self._connection.execute(
            asked.group_by(loads.c.plan, loads.c.id, loads.c.position).order_by(number, loads.c.position)
        ).all()
        newest = {order_of(row.id): row.plan for row in rows}
        return tuple((row.plan, row.id) for row in rows if newest[order_of(row.id)] == row.plan != now)

    def ids_of_all_releases(self, now: str, kind: Literal["bundle", "load"]) -> tuple[tuple[str, str], ...]:
        """Return the plan and id of each bundle or load of all releases, those of the plan on the floor first.

        Of an order the newest release that has it counts. Cached by the release: rows of a plan never change.
        """
        table = bundles if kind == "bundle" else loads
        last = self._connection.execute(select(func.max(releases.c.number))).scalar_one()
        key = str(self._connection.engine.url), kind, now, last

        def found() -> tuple[tuple[str, str], ...]:
            number = func.max(releases.c.number).label("number")
            asked = select(number, table.c.plan, table.c.id).join(releases, releases.c.plan == table.c.plan)
            asked = asked.group_by(table.c.plan, table.c.id, table.c.position).order_by(number, table.c.position)
            rows = self._connection.execute(asked).all()
            newest = {order_of(row.id): row.plan for row in rows}
            mine = [(row.plan, row.id) for row in rows if newest[order_of(row.id)] == row.plan]
            return tuple(sorted(mine, key=lambda one: one[0] != now))

        return HOMES.get(key, found)

    def open_cuts(self, plan_id: str) -> tuple[tuple[str, str], ...]:
        """Return the bar and piece of each cut of a plan that nothing was reported of."""
        asked = select(cuts.c.bar, cuts.c.piece).where(cuts.c.plan == plan_id, OPEN)
        return tuple((row.bar, row.piece) for row in self._connection.execute(asked))

    def numbered(self, plan_id: str) -> dict[str, NumberedBar]:
        """Return each bar of a plan by its id: its running number, its machine, and the digest of its pieces."""
        asked = select(bars.c.id, bars.c.number, bars.c.machine, bars.c.pieces_digest).where(bars.c.plan == plan_id)
        rows = self._connection.execute(asked)
        return {str(row.id): NumberedBar(int(row.number), str(row.machine), str(row.pieces_digest)) for row in rows}

    def stock_of(self, plan_id: str, bar: str) -> tuple[str, tuple[str, ...]]:
        """Return what a bar of a plan is cut from, and the names in the book of the bar in all releases that have it."""
        mine = select(bars.c.number, bars.c.body).where(bars.c.plan == plan_id, bars.c.id == bar)
        row = self._connection.execute(mine).first()
        if row is None:
            return "", ()
        asked = select(bars.c.id, bars.c.pieces_digest).where(bars.c.number == row.number)
        names = tuple(book_bar_name(str(one.id), one.pieces_digest or None) for one in self._connection.execute(asked))
        return _decoded(Bar, row.body).stock, names

    def last_bar(self) -> int:
        """Return the highest running number that any bar was given; 0: none."""
        return int(self._connection.execute(select(func.max(bars.c.number))).scalar() or 0)

    def load_names(self, plan_id: str) -> tuple[str, ...]:
        """Return the ids of a plan's loads, in the plan's order."""
        asked = select(loads.c.id).where(loads.c.plan == plan_id).order_by(loads.c.position)
        return tuple(self._connection.execute(asked).scalars())

    def loads(self, plan_id: str, names: Collection[str] | None = None) -> tuple[Load, ...]:
        """Return a plan's loads, or those of some names, in the plan's order."""
        asked = select(loads.c.body).where(loads.c.plan == plan_id).order_by(loads.c.position)
        if names is not None:
            asked = asked.where(loads.c.id.in_(list(names)))
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

    def complete_event(self, plan_id: str, event: AnyEvent) -> AnyEvent:
        """Return an event with what a plan knows of it: which bar of that name, what it is cut from, what a bundle holds.

        Whoever says that a bar is scrap means its rest. What the plan does not know stays as it was told.
        """
        if isinstance(event, Scrapped) and self.is_bar(plan_id, event.piece):
            said = ("id", "kind", "at", "device", "actor", "counter", "release", "reason")
            whole: dict[str, Any] = {name: getattr(event, name) for name in said}
            event = DropBinned(**whole, bar=event.piece)
        if isinstance(event, On | BundleClosed) and not event.pieces:
            return replace(event, pieces=tuple(self.pieces_in(plan_id, [event.bundle]).get(event.bundle, ())))
        if isinstance(event, Cut | Scrapped) and event.bar is None:
            event = replace(event, bar=self.bar_and_bundle_of(plan_id, event.piece)[0])
        name = getattr(event, "bar", None)
        if name is None or not hasattr(event, "bar_digest") or event.bar_digest is not None:
            return event
        asked = select(bars.c.pieces_digest, bars.c.body).where(bars.c.plan == plan_id, bars.c.id == name)
        row = self._connection.execute(asked).first()
        if row is None:
            return event
        more: dict[str, Any] = {"bar_digest": row.pieces_digest or None}
        if isinstance(event, BarBegun | BarNotInRack | DropPutAway):
            with suppress(UnreadableStored):  # what happened is kept, whatever became of the plan's own rows
                more |= _of_bar(event, _decoded(Bar, row.body))
        return replace(event, **more)

    def has_thing(self, plan_id: str, subject: str) -> bool:
        """Return whether the plan names a piece, bar, bundle or load."""
        asked = (
            select(cuts.c.n).where(cuts.c.plan == plan_id, cuts.c.piece == subject),
            select(bundle_pieces.c.place).where(bundle_pieces.c.plan == plan_id, bundle_pieces.c.piece == subject),
            select(bars.c.position).where(bars.c.plan == plan_id, bars.c.id == subject),
            select(bundles.c.position).where(bundles.c.plan == plan_id, bundles.c.id == subject),
            select(loads.c.position).where(loads.c.plan == plan_id, loads.c.id == subject),
        )
        return any(self._connection.execute(one.limit(1)).first() is not None for one in asked)


def _of_bar(event: BarBegun | BarNotInRack | DropPutAway, bar: Bar) -> dict[str, Any]:
    """What a bar's row adds to an event about it: the material, and the length of the bar or of its rest."""
    length_nm = bar.drop_nm if isinstance(event, DropPutAway) else bar.length_nm
    more: dict[str, Any] = {"material": event.material or bar.material, "length_nm": event.length_nm or length_nm or None}
    return more | {"width_nm": event.width_nm or bar.width_nm} if isinstance(event, DropPutAway) else more


def _happened(subject: Any, *kinds: str, of: ColumnElement[bool] | None = None) -> ColumnElement[bool]:
    return cast(
        "ColumnElement[bool]",
        exists().where(events.c.subject == subject, events.c.kind.in_(kinds), ~UNDONE, *(() if of is None else (of,))),
    )


def _decoded(kind: type[T], body: str) -> T:
    return ROWS.get((kind, body), lambda: from_stored_text(kind, body))
