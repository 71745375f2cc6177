"""What rests on an event: what would have no ground if it had not been."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from solver.book.event_order import RecordedEvent, in_order_of_occurrence
from solver.book.things import affected_things
from solver.domain import event as told
from solver.domain.book import Thing

# what a later event of one of these kinds, on the same thing, rests on
GROUNDS: Mapping[type, tuple[type, ...]] = {
    told.Cut: (told.Laid, told.Scrapped),
    told.Scrapped: (told.Cut, told.Laid, told.Scrapped),
    told.Damaged: (told.Cut, told.Scrapped),
    told.Laid: (told.BundleClosed, told.On),
    told.BundleClosed: (told.On,),
    told.On: (told.Off, told.Left, told.Damaged, told.NotHere),
    told.Off: (told.On,),
    told.BundleOpened: (told.BundleClosed,),
    told.BarBegun: (told.Cut, told.Scrapped, told.Flaw, told.BarSetAside, told.DropPutAway, told.DropBinned),
}
BORN = (told.Received, told.DropPutAway)  # by these an item comes to be


def dependent_events(undone: told.AnyEvent, events: Mapping[Thing, Iterable[RecordedEvent]]) -> tuple[told.AnyEvent, ...]:
    """Return the events that rest on one, in the order in which they happened, from all that stand on its things.

    A cut that was told twice carries what follows as long as one of the two stands.
    """
    found: dict[str, told.AnyEvent] = {}
    for thing in affected_things(undone):
        told_of = [one.event for one in in_order_of_occurrence(one for one in events.get(thing, ()) if one.stands)]
        ids = [event.id for event in told_of]
        if undone.id not in ids:
            continue
        before, after = told_of[: ids.index(undone.id)], told_of[ids.index(undone.id) + 1 :]
        if _carried(thing, undone, before, after):
            continue
        for event in after:
            if isinstance(event, told.Answered):
                continue
            born = thing.kind == "item" and isinstance(undone, BORN) and undone.item is not None
            if born and not any(isinstance(one, BORN) for one in before):
                found[event.id] = event
            elif isinstance(event, GROUNDS.get(type(undone), ())):
                if _ended(undone, event, after):
                    continue
                found[event.id] = event
    return tuple(found.values())


def _carried(thing: Thing, undone: told.AnyEvent, before: list[told.AnyEvent], after: list[told.AnyEvent]) -> bool:
    """Whether another account of the same cut stands."""
    if thing.kind != "piece" or not isinstance(undone, told.Cut):
        return False
    same = (told.Cut, told.Laid)
    since = [event for event in before if isinstance(event, (*same, told.Scrapped, told.Damaged))]
    if since and isinstance(since[-1], same):
        return True
    return bool(after) and isinstance(after[0], told.Cut)


def _ended(undone: told.AnyEvent, event: told.AnyEvent, after: list[told.AnyEvent]) -> bool:
    """Whether what rests on an event was itself ended since: a bundle that is off again holds nobody."""
    if isinstance(event, told.On):
        later = after[after.index(event) + 1 :]
        return any(isinstance(one, told.Off | told.BundleOpened) for one in later)
    return False
