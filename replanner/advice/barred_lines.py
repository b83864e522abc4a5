"""Single lines on what cannot be ridden: no-go or closed legs, and demands that leave no plan.

Each has about 60 characters; empty: nothing to say.
"""

from functools import partial
from typing import NamedTuple

from replanner.advice.briefing import HazardNote, LeftOut
from replanner.advice.fitting import LINE, Lines, packed, squeezed
from replanner.advice.headline import blocked_leg
from replanner.advice.hurdles import NEVER_WORDS, demand_words, never_words, wanted_words
from replanner.advice.telling import Telling
from replanner.hazards.model import NO_GO
from replanner.planning.demand import Demand, DemandKind
from replanner.trip.model import LegId


class Barred(NamedTuple):
    """A leg that is no-go or closed, ridden all the same or not."""

    leg: LegId
    note: HazardNote | None
    closed: bool


def barred(telling: Telling) -> tuple[Barred, ...]:
    """Return the legs that are no-go or closed: first those in the plan, then those left out."""
    ridden = (
        Barred(leg.id, leg.hazard, closed=False)
        for leg in telling.briefing.legs
        if leg.severity >= NO_GO
    )
    left_out = telling.briefing.left_out
    not_ridden = (
        Barred(leg.id, None if leg.cause == "closed" else leg.reason, closed=leg.cause == "closed")
        for leg in sorted(left_out, key=lambda leg: leg.id != telling.briefing.own_order.worst_leg)
        if leg.price_minutes is None and leg.cause in ("hazard", "closed")
    )
    return (*ridden, *not_ridden)


def no_go(telling: Telling) -> str:
    """Return what is no-go or closed, the first with its figure."""
    found = barred(telling)
    if not found:
        return ""
    first, more = found[0], len(found) - 1

    def line(width: int, *, place: bool, limit: bool = True) -> str:
        legs = telling.leg(first.leg, width)
        if first.note is not None:
            legs = telling.leg_reason(first.leg, first.note, width, place=place, limit=limit)
        if more:
            legs = telling.words.count(
                "{first}; {n} more", "{first}; {n} more", more, first=legs, n=str(more)
            )
        if first.closed:
            return telling.words.say("Closed: {legs}", legs=legs)
        if is_own_worst(telling, first.leg):
            return telling.words.say("Your order no-go: {legs}", legs=legs)
        return telling.words.say("No-go: {legs}", legs=legs)

    return squeezed(
        partial(line, place=True),
        partial(line, place=False),
        partial(line, place=False, limit=False),
        whole=2,
    )


def is_own_worst(telling: Telling, leg: LegId) -> bool:
    """Return whether the own order fails by that very leg: then one line tells both."""
    own = telling.briefing.own_order
    return own.worst_leg == leg and own.severity >= NO_GO


def not_together(telling: Telling) -> Lines:
    """Return which demands leave no plan, in as few lines as they take."""
    demands = clash(telling)
    if not demands:
        return ()
    impossible = impossible_leg(telling)
    if impossible is not None:
        return packed(cannot_be_ridden(telling, impossible).split(" "), LINE, " ")
    if len(demands) == 1:
        told = telling.words.say("No plan keeps {demand}", demand=demands[0])
    else:
        told = telling.words.say("No plan keeps all of: {demands}", demands="; ".join(demands))
    return packed(told.split(" "), LINE, " ")


def impossible_leg(telling: Telling) -> LeftOut | None:
    """Return the leg that nothing but itself stands against: no boat, no tide, never open."""
    blame = telling.briefing.blame
    if len(blame) != 1 or blame[0].kind is not DemandKind.RIDE or len(blame[0].legs) != 1:
        return None
    return next(
        (
            leg
            for leg in telling.briefing.left_out
            if leg.id == blame[0].legs[0] and leg.to_ride_it and leg.to_ride_it.kind in NEVER_WORDS
        ),
        None,
    )


def cannot_be_ridden(telling: Telling, leg: LeftOut) -> str:
    """Return what stands against a leg all day."""
    name = telling.leg(leg.id)
    if leg.to_ride_it is None:
        return telling.words.say("{leg} cannot be ridden", leg=name)
    never = never_words(telling, leg.to_ride_it)
    return telling.words.say("{leg} cannot be ridden: {never}", leg=name, never=never)


def obstacle(telling: Telling) -> str:
    """Return what would have to change first for the leg that a day without a plan fails by."""
    leg = blocked_leg(telling)
    if leg is None or leg.to_ride_it is None or telling.briefing.legs:
        return ""
    return squeezed(
        lambda width: telling.words.say(
            "It would take {wanted} for {leg}",
            leg=telling.leg(leg.id, width),
            wanted=wanted_words(telling, leg.to_ride_it, width),
        )
    )


def clash(telling: Telling) -> tuple[str, ...]:
    """Return the demands that cannot hold together, in the rider's words and local times.

    A single leg that is told as no-go or closed anyway is not told again.
    """
    blocked = blocked_leg(telling)
    blame = telling.briefing.blame
    if blocked is not None and blame == (Demand(kind=DemandKind.RIDE, legs=(blocked.id,)),):
        return ()
    return tuple(demand_words(telling, demand) for demand in blame)
