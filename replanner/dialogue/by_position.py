"""Where the riders are as a position or a line tells it, and what lies behind them there.

What they have ridden since their last break and their last fuel is known by the plan: at the point
of it where they are, however late they come there; off it, by what was known before.
"""

from dataclasses import replace
from datetime import datetime

from replanner.advice.briefing import PlannedLeg
from replanner.dialogue.by_plan import LIVE_LASTS, Stand, by_plan, side, way_of
from replanner.dialogue.events import PositionCame
from replanner.dialogue.road_told import in_force
from replanner.dialogue.state import Shown, State
from replanner.trip.model import LegId, Way
from replanner.trip.passage import in_way
from replanner.trip.underway import OnLeg, Underway


def standing(state: State, underway: Underway, before: Stand, on_km: float = 0.0) -> Stand:
    """Return the riders where they are, with what they have ridden until there.

    Parameters
    ----------
    underway : Underway
        Where they are, and what they have ridden.
    before : Stand
        Where they were taken to be, without being told.
    on_km : float
        How far they have come since their last live position, where the plan does not tell. [km]
    """
    words, on = state.words, underway.on_leg
    if on is not None:
        told = words.say("You are on {where}.", where=state.book.name(on.leg))
    elif underway.place is not None:
        told = words.say("You are at {where}.", where=state.book.place(underway.place))
    else:
        told = words.say("You are off the route.")
    ahead = tuple(leg for leg in planned(state) if leg.id not in underway.gone)
    since = _since(state, underway, before.underway, on_km)
    riding = replace(
        underway,
        riding=tuple(leg.id for leg in ahead),
        in_the_morning=_in_the_morning(state, underway),
        ridden_minutes=since.ridden_minutes,
        tank_km=since.tank_km,
        tank_told_km=since.tank_told_km,
    )
    if underway.place is not None and underway.place == before.underway.place:
        riding = replace(riding, boarding=before.underway.boarding)
    return replace(before, underway=riding, told=told, ahead=ahead)


def found(state: State, event: PositionCame) -> Underway:
    """Return where a position has the riders, on a leg in the way that is known, else as planned.

    A single position tells no way, nor do the first ones of a loop. Who has said that he turns back
    does so until he has left the leg, or says where he goes.
    """
    here, progress = event.underway, event.progress
    on, followed = here.on_leg, progress.on if progress and progress.way_known else None
    if on is None:
        return here
    turned = _turned_back_on(state, on.leg)
    if turned is not None:
        return replace(here, on_leg=replace(on, way=turned.way), turning_back=True)
    if followed is not None and followed.leg == on.leg:
        return here
    way = planned_way(state, on.leg)
    return here if way is None else replace(here, on_leg=replace(on, way=way))


def _turned_back_on(state: State, leg: LegId) -> OnLeg | None:
    """Return where on a leg they have said that they turn back, being on it; None: they have not.

    Seen elsewhere between they are on their way back still, by the plan they ride by; at a place
    they are done with it.
    """
    known, plan = state.demands.underway, in_force(state)
    if known is None or known.place is not None:
        return None
    made_from = plan.demands.underway if plan else None
    last = known if known.on_leg is not None and known.on_leg.leg == leg else made_from
    if last is None or not last.turning_back or last.on_leg is None:
        return None
    return last.on_leg if last.on_leg.leg == leg else None


def planned(state: State) -> tuple[PlannedLeg, ...]:
    """Return the legs of the plan in force."""
    plan = in_force(state)
    return plan.briefing.legs if plan else ()


def planned_way(state: State, leg: LegId) -> Way | None:
    """Return the way the plan in force has a leg ridden; None: it has it not."""
    plan = in_force(state)
    legs = [one for one in plan.briefing.legs if one.id == leg] if plan else []
    return way_of(plan, legs[0]) if plan and legs else None


def share_of(plan: Shown, leg: PlannedLeg, on: OnLeg) -> float:
    """Return how much of a planned leg is behind riders who are on it, 0 to 1."""
    made_from, begun = plan.demands.underway, 0.0
    if made_from is not None and made_from.on_leg is not None:
        first = made_from.on_leg
        begun = in_way(first.fraction, first.way) if first.leg == leg.id else 0.0
    return (in_way(on.fraction, on.way) - begun) / max(1.0 - begun, 1e-6)


def _in_the_morning(state: State, here: Underway) -> bool:
    """Tell whether nothing is begun: by the plan, or they were seen to stay where they were."""
    plan, known = in_force(state), state.demands.underway
    if known is not None and known.in_the_morning and _seen_there(state, here):
        return True
    reckoned = by_plan(state, plan, here.at) if plan else None
    return reckoned is not None and reckoned.in_the_morning


def _seen_there(state: State, here: Underway) -> bool:
    """Tell whether they were known to be at a place so lately that they can hardly have left it."""
    known = state.demands.underway
    if known is None or here.place is None or known.place != here.place:
        return False
    return here.at - known.at <= LIVE_LASTS


def _since(state: State, here: Underway, before: Underway, on_km: float) -> Underway:
    """Return the riders as they are taken to be by the plan where they are, else as before."""
    plan = in_force(state)
    moment = _planned_at(state, plan, here) if plan and not _told_since(plan, before) else None
    if plan is not None and moment is not None:
        there = by_plan(state, plan, here.at, here.at - moment)
        if there is not None:
            return there
    seen = _seen_km(state, before, on_km)
    if before.tank_km is None or seen is None:
        return before
    return replace(before, tank_km=max(before.tank_km, seen))


def _seen_km(state: State, before: Underway, on_km: float) -> float | None:
    """Return how far the tank has come by the last live position; None: it is not of that tank."""
    known = state.demands.underway
    if known is None or not known.live or known.tank_told_km != before.tank_told_km:
        return None
    return None if known.tank_km is None else known.tank_km + on_km


def _told_since(plan: Shown, before: Underway) -> bool:
    """Tell whether they have told of their tanks what the plan was made without."""
    made_from = plan.demands.underway
    told = made_from.tank_told_km if made_from else None
    return before.tank_told_km not in (None, told)


def _planned_at(state: State, plan: Shown, here: Underway) -> datetime | None:
    """Return when the plan has them where they are; None: never, or it cannot be told."""
    legs, on = plan.briefing.legs, here.on_leg
    if on is not None:
        ways = [leg for leg in legs if leg.id == on.leg and way_of(plan, leg) is on.way]
        if not ways or _passed_over(here, legs[: legs.index(ways[0])]):
            return None
        return ways[0].reached_at(share_of(plan, ways[0], on))
    behind = [leg for leg in legs if leg.id in here.ridden]
    if here.place is None or behind != list(legs[: len(behind)]):
        return None
    following = legs[len(behind)] if behind != list(legs) else None
    if following is not None and side(state, plan, following, last=False) != here.place:
        following = None
    if not behind:
        return _planned_first(state, plan, here, following) if following else None
    at_end = side(state, plan, behind[-1], last=True) == here.place
    came = behind[-1].reached_at(1.0) if at_end else None
    if following is None:
        return came
    # Halts and breaks may be planned there: who is there in time is in the midst of them.
    return following.start if came is None else min(max(here.at, came), following.start)


def _passed_over(here: Underway, legs: tuple[PlannedLeg, ...]) -> bool:
    """Tell whether legs come first that are not ridden, and by the plan cannot be."""
    return any(leg.id not in here.ridden and leg.end > here.at for leg in legs)


def _planned_first(state: State, plan: Shown, here: Underway, first: PlannedLeg) -> datetime | None:
    """Return when the plan has them where its first leg begins, nothing of it being ridden.

    Who was not seen to stay there may have ridden since and be back: then it cannot be told.
    """
    if state.book.road.leg(first.id) is None:  # the way back that they were to ride first
        return first.end
    made_from = plan.demands.underway
    if made_from is None or made_from.place != here.place:
        return None
    return first.start if here.at <= first.start or _seen_there(state, here) else None
