"""How a wish changes what is demanded of a day; pure set work, no words.

Every function returns new demands; `lifted` tells which cautions a change would remove.
"""

from dataclasses import dataclass, replace
from datetime import date, datetime
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise

from replanner.advice.briefing import Briefing, LeftOut
from replanner.trip.edits import Demands
from replanner.trip.model import LegId
from replanner.trip.underway import Report, ReportKind

# Why a leg can be left out without any danger in riding it all the same.
_HARMLESS = frozenset({"asked", "no time", "not worth it", "other day", "stand-in"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Lifted:
    """The cautions a change removes; empty: none."""

    reopened: tuple[LegId, ...] = ()
    forced: tuple[LeftOut, ...] = ()
    later: datetime | None = None  # departure moved to this instant, later than planned
    reports: tuple[Report, ...] = ()  # ended before they expire, or DRY: a wet road believed dry
    milder: bool = False  # a class by which hazards counted as worse is taken back

    def __bool__(self) -> bool:
        return bool(self.reopened or self.forced or self.later or self.reports or self.milder)

    @property
    def facts(self) -> bool:
        """Whether it takes back what riders have met, not what they wish."""
        return bool(self.reopened or self.reports or self.milder)


def without(demands: Demands, legs: tuple[LegId, ...]) -> Demands:
    """Leave legs out."""
    gone = frozenset(legs)
    return replace(
        demands,
        left_out=demands.left_out | gone,
        forced=demands.forced - gone,
        moved=frozenset(pair for pair in demands.moved if pair[0] not in gone),
    )


def allowing(demands: Demands, legs: tuple[LegId, ...]) -> Demands:
    """Take back that legs are left out, without forcing them."""
    return replace(demands, left_out=demands.left_out - frozenset(legs))


def riding(demands: Demands, legs: tuple[LegId, ...]) -> Demands:
    """Ride legs all the same."""
    wanted = frozenset(legs)
    return replace(demands, left_out=demands.left_out - wanted, forced=demands.forced | wanted)


def closing(demands: Demands, legs: tuple[LegId, ...]) -> Demands:
    """Note legs as closed; what is closed is not forced any more."""
    return replace(demands, closed=demands.closed | set(legs), forced=demands.forced - set(legs))


def reopening(demands: Demands, legs: tuple[LegId, ...]) -> Demands:
    """Take back that legs are closed."""
    return replace(demands, closed=demands.closed - set(legs))


def moving(demands: Demands, legs: tuple[LegId, ...], day: date) -> Demands:
    """Ride legs on that day and on no other."""
    gone = frozenset(legs)
    kept = frozenset(pair for pair in demands.moved if pair[0] not in gone)
    return replace(
        demands,
        moved=kept | {(leg, day) for leg in legs},
        left_out=demands.left_out - gone,
        forced=demands.forced - gone,
    )


def departing(demands: Demands, departure: datetime) -> Demands:
    """Leave at that instant."""
    return replace(demands, departure=departure)


def in_order(demands: Demands, first: LegId, second: LegId) -> Demands:
    """Ride one leg before another; older wishes that contradict give way."""
    pair = (first, second)
    kept = demands.before - {(second, first)}
    before = kept | {pair} if _can_hold(kept | {pair}) else frozenset({pair})
    return replace(demands, before=before, own_order=False)


def _can_hold(before: frozenset[tuple[LegId, LegId]]) -> bool:
    graph: dict[LegId, set[LegId]] = {}
    for first, second in before:
        graph.setdefault(second, set()).add(first)
    try:
        TopologicalSorter(graph).prepare()
    except CycleError:
        return False
    return True


def exchanged(demands: Demands, legs: tuple[LegId, ...], first: LegId, second: LegId) -> Demands:
    """Ride the legs in the order they have, two of them exchanged."""
    swapped = {first: second, second: first}
    order = [swapped.get(leg, leg) for leg in legs]
    return replace(demands, before=frozenset(pairwise(order)), own_order=False)


def plan_b(demands: Demands, briefing: Briefing) -> Demands:
    """Demand what plan B is: its legs and no others of the day, in its order, at its hour.

    Raises
    ------
    ValueError
        If the briefing has no plan B.
    """
    second = briefing.plan_b
    if second is None:
        raise ValueError("the briefing has no plan B")
    legs = [leg.id for leg in second.legs]
    others = {leg.id for leg in briefing.legs} | {leg.id for leg in briefing.left_out}
    return replace(
        demands,
        left_out=(demands.left_out | others) - set(legs),
        forced=frozenset(legs),
        departure=second.departure,
        own_order=False,
        before=frozenset(pairwise(legs)),
    )


def own_order(demands: Demands) -> Demands:
    """Ride the rider's own order; what was reported closed or left out stays so."""
    return replace(demands, own_order=True, forced=frozenset(), before=frozenset())


def afresh(demands: Demands) -> Demands:
    """Drop every wish; what riders have met, where they are and swaps between days stay."""
    return Demands(
        closed=demands.closed,
        moved=demands.moved,
        underway=demands.underway,
        reports=demands.reports,
        nights=demands.nights,
        stricter=demands.stricter,
    )


def lasting(demands: Demands) -> Demands:
    """Return what outlasts a day: swaps between days, reports until they expire, nights."""
    return Demands(moved=demands.moved, reports=demands.reports, nights=demands.nights)


def tells_facts(new: Demands, old: Demands) -> bool:
    """Tell whether a change holds what riders have met or where they are: true, plan or no plan."""
    return bool(
        new.closed - old.closed
        or new.reports - old.reports
        or new.stricter > old.stricter
        or (new.underway is not None and new.underway != old.underway)
    )


def lifted(old: Demands, new: Demands, briefing: Briefing | None) -> Lifted:
    """Tell which cautions a change removes.

    Parameters
    ----------
    old, new : Demands
    briefing : Briefing or None
        The plan shown: it knows why a leg was left out and when the day begins.
    """
    out = {leg.id: leg for leg in briefing.left_out} if briefing else {}
    forced = tuple(
        out[leg] for leg in sorted(new.forced - old.forced) if leg in out and _risky(out[leg])
    )
    planned = old.departure or (briefing.departure if briefing else None)
    later = new.departure if new.departure and planned and new.departure > planned else None
    return Lifted(
        reopened=tuple(sorted(old.closed - new.closed)),
        forced=forced,
        later=later if new.departure != old.departure else None,
        reports=tuple(sorted(_softened(old, new), key=lambda one: (one.leg, one.kind, one.until))),
        milder=new.stricter < old.stricter,
    )


def _softened(old: Demands, new: Demands) -> frozenset[Report]:
    ended = {one for one in old.reports - new.reports if one.kind is not ReportKind.DRY}
    dry = {one for one in new.reports - old.reports if one.kind is ReportKind.DRY}
    return frozenset(ended | dry)


def _risky(leg: LeftOut) -> bool:
    if leg.cause in ("asked", "other day"):  # no price is worked out for what nobody asked to ride
        return leg.reason is not None
    return leg.reason is not None or leg.price_minutes is None or leg.cause not in _HARMLESS
