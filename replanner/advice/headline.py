"""Line one: the day, the decision, and the one thing to do. It stands alone."""

from collections.abc import Callable, Mapping
from datetime import timedelta
from functools import partial

from replanner.advice.briefing import Change, ChangeKind, Decision, LeftOut
from replanner.advice.fitting import LINE, squeezed
from replanner.advice.road_lines import no_go_road
from replanner.advice.telling import Telling
from replanner.advice.words import Words
from replanner.hazards.model import NO_GO
from replanner.trip.model import LegId

# What the rider reads of each decision, loud and quiet.
_LOUD: Mapping[Decision, str] = {
    Decision.AS_PLANNED: "AS PLANNED",
    Decision.AS_ASKED: "AS YOU ASKED",
    Decision.SWAP: "SWAP",
    Decision.LEAVE_LATER: "LEAVE LATER",
    Decision.LEAVE_EARLIER: "LEAVE EARLIER",
    Decision.STAND_IN: "STAND-IN",
    Decision.LEAVE_OUT: "LEAVE OUT",
    Decision.MOVE_DAY: "OTHER DAY",
    Decision.ADD: "ADD",
    Decision.REST_DAY: "REST DAY",
    Decision.NO_WAY: "NO SAFE WAY",
}
_QUIET: Mapping[Decision, str] = {
    Decision.AS_PLANNED: "as planned",
    Decision.AS_ASKED: "as you asked",
    Decision.SWAP: "swap",
    Decision.LEAVE_LATER: "leave later",
    Decision.LEAVE_EARLIER: "leave earlier",
    Decision.STAND_IN: "stand-in",
    Decision.LEAVE_OUT: "leave out",
    Decision.MOVE_DAY: "other day",
    Decision.ADD: "add",
    Decision.REST_DAY: "rest day",
    Decision.NO_WAY: "no safe way",
}


def decision_word(decision: Decision, words: Words, *, loud: bool = True) -> str:
    """Return the decision in a word or three."""
    return words.say((_LOUD if loud else _QUIET)[decision])


def headline(telling: Telling) -> str:
    """Return line one, at most 60 characters; an invented day is marked where there is room."""
    makes = (_old_plan, _old_plan_brief) if telling.briefing.plan_stale else (_line,)
    line = squeezed(*(partial(make, telling) for make in makes), stretch=0)
    marked = line + telling.words.say(" (INVENTED)")
    return marked if telling.briefing.invented and len(marked) <= LINE else line


def _line(telling: Telling, width: int) -> str:
    return telling.words.say(
        "{date}: {decision}. {essence}",
        date=telling.figures.date(telling.briefing.date),
        decision=decision_word(telling.briefing.decision, telling.words),
        essence=essence(telling, width),
    )


def _old_plan(telling: Telling, _: int) -> str:
    return telling.words.say(
        "OLD PLAN of {made}, not checked: {date} {decision}",
        made=telling.figures.clock(telling.briefing.made_at),
        date=telling.figures.date(telling.briefing.date),
        decision=decision_word(telling.briefing.decision, telling.words),
    )


def _old_plan_brief(telling: Telling, _: int) -> str:
    return telling.words.say(
        "OLD PLAN, not checked: {date} {decision}",
        date=telling.figures.date(telling.briefing.date),
        decision=decision_word(telling.briefing.decision, telling.words),
    )


def essence(telling: Telling, width: int) -> str:
    """Return what the decision comes down to, with names of at most `width` characters."""
    danger = next((leg for leg in telling.briefing.legs if leg.severity >= NO_GO), None)
    if danger is not None:
        return telling.words.say(
            "{leg} is no-go at {time}",
            leg=telling.leg(danger.id, width),
            time=telling.figures.clock(danger.start),
        )
    road = no_go_road(telling)
    if road is not None:
        return telling.words.say(
            "No-go road to {place} at {time}",
            place=telling.place(road.end, width),
            time=telling.figures.clock(road.leave),
        )
    own = telling.briefing.own_order
    if telling.briefing.legs and telling.briefing.value_minutes is None and own.breaks:
        return telling.words.say("It cannot be ridden")  # the own order, asked for all the same
    return _ESSENCE[telling.briefing.decision](telling, width)


def essence_legs(telling: Telling) -> frozenset[LegId]:
    """Return the legs of which the essence says when they are ridden."""
    legs, departure = telling.briefing.legs, telling.briefing.departure
    danger = next((leg.id for leg in legs if leg.severity >= NO_GO), None)
    if danger is not None:
        return frozenset({danger})
    kind = _TIMED.get(telling.briefing.decision)
    change = weightiest(telling, kind) if kind else None
    told = {change.leg} if change and change.leg else set()
    if kind is ChangeKind.MOVED and legs and departure is not None:
        at_once = legs[0].start - departure < AT_ONCE
        told = told | {legs[0].id} if at_once else told - {legs[0].id}
    return frozenset(leg.id for leg in legs if leg.id in told)


AT_ONCE = timedelta(minutes=20)  # after leaving: the first leg needs no hour of its own

_TIMED = {Decision.SWAP: ChangeKind.MOVED, Decision.ADD: ChangeKind.ADDED}


def weightiest(telling: Telling, kind: ChangeKind) -> Change | None:
    """Return the change of that kind which is worth most; not undoable ones before all."""
    changes = [change for change in telling.briefing.changes if change.kind is kind]
    return max(changes, key=change_weight, default=None)


def change_weight(change: Change) -> tuple[bool, float]:
    """Return how much a change weighs, for sorting."""
    return change.worth_minutes is None, change.worth_minutes or 0.0


def _from_to(telling: Telling, width: int) -> str:
    briefing, say, clock = telling.briefing, telling.words.say, telling.figures.clock
    if briefing.departure is None:
        return say("Stay in {base}", base=telling.place(briefing.base_from, width))
    if briefing.arrival is None:
        return say("Leave {departure}, not in in time", departure=clock(briefing.departure))
    return say(
        "Leave {departure}, in by {arrival}",
        departure=clock(briefing.departure),
        arrival=clock(briefing.arrival, up=True),
    )


def _swap(telling: Telling, width: int) -> str:
    legs = telling.briefing.legs
    moved = weightiest(telling, ChangeKind.MOVED)
    other = telling.planned(moved.leg) if moved and moved.leg else None
    if not legs:
        return _from_to(telling, width)
    if other is None or other == legs[0]:
        return telling.words.say(
            "{leg} first, at {time}",
            leg=telling.leg(legs[0].id, width),
            time=telling.figures.clock(legs[0].start),
        )
    return telling.words.say(
        "{first} first, {leg} at {time}",
        first=telling.leg(legs[0].id, width),
        leg=telling.leg(other.id, width),
        time=telling.figures.clock(other.start),
    )


def _departure(telling: Telling, width: int) -> str:
    change = weightiest(telling, ChangeKind.DEPARTURE)
    if change is None or change.own_start is None or telling.briefing.departure is None:
        return _from_to(telling, width)
    return telling.words.say(
        "Leave {departure}, not {own}",
        departure=telling.figures.clock(telling.briefing.departure),
        own=telling.figures.clock(change.own_start),
    )


def _stand_in(telling: Telling, width: int) -> str:
    change = weightiest(telling, ChangeKind.STAND_IN)
    if change is None or change.leg is None or change.other_leg is None:
        return _from_to(telling, width)
    ridden, dropped = change.other_leg, change.leg
    if telling.planned(dropped) and not telling.planned(ridden):
        ridden, dropped = dropped, ridden
    return telling.words.say(
        "{ridden}, not {dropped}",
        ridden=telling.leg(ridden, width),
        dropped=telling.leg(dropped, width),
    )


def _leave_out(telling: Telling, width: int) -> str:
    change = weightiest(telling, ChangeKind.LEFT_OUT)
    leg = change.leg if change and change.leg else None
    return telling.leg(leg, width) if leg else _from_to(telling, width)


def _other_day(telling: Telling, width: int) -> str:
    change = weightiest(telling, ChangeKind.OTHER_DAY)
    if change is None or change.leg is None:
        return _from_to(telling, width)
    leg = telling.leg(change.leg, width)
    if change.to_day is None:
        return leg
    return telling.words.say("{leg} on {date}", leg=leg, date=telling.figures.date(change.to_day))


def _add(telling: Telling, width: int) -> str:
    change = weightiest(telling, ChangeKind.ADDED)
    added = telling.planned(change.leg) if change and change.leg else None
    if added is None:
        return _from_to(telling, width)
    return telling.words.say(
        "{leg} at {time}",
        leg=telling.leg(added.id, width),
        time=telling.figures.clock(added.start),
    )


def blocked_leg(telling: Telling) -> LeftOut | None:
    """Return the leg that a day without a plan fails by; None: none alone is to blame."""
    own, left_out = telling.briefing.own_order, telling.briefing.left_out
    barred = [
        leg for leg in left_out if leg.price_minutes is None and leg.cause in ("hazard", "closed")
    ]
    worst = (leg for leg in barred if leg.id == own.worst_leg)
    return next(worst, None) or next(iter(barred), None)


def _no_way(telling: Telling, width: int) -> str:
    blocked = blocked_leg(telling)
    blame = telling.briefing.blame
    if blocked is None and len(blame) == 1 and len(blame[0].legs) == 1:
        return telling.words.say("No way for {leg}", leg=telling.leg(blame[0].legs[0], width))
    if blocked is None and blame:
        return telling.words.say("Not all of it fits the day")
    if blocked is None:
        return telling.words.say("Do not set out on this plan")
    if blocked.cause == "closed":
        return telling.words.say("{leg} is closed", leg=telling.leg(blocked.id, width))
    if blocked.reason is None:
        return telling.words.say("No way for {leg}", leg=telling.leg(blocked.id, width))
    return telling.words.say(
        "{leg}, {hazard}",
        leg=telling.leg(blocked.id, width),
        hazard=telling.hazard(blocked.reason, limit=False),
    )


_ESSENCE: Mapping[Decision, Callable[[Telling, int], str]] = {
    Decision.AS_PLANNED: _from_to,
    Decision.AS_ASKED: _departure,
    Decision.SWAP: _swap,
    Decision.LEAVE_LATER: _departure,
    Decision.LEAVE_EARLIER: _departure,
    Decision.STAND_IN: _stand_in,
    Decision.LEAVE_OUT: _leave_out,
    Decision.MOVE_DAY: _other_day,
    Decision.ADD: _add,
    Decision.REST_DAY: _from_to,
    Decision.NO_WAY: _no_way,
}
