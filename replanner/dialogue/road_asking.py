"""Asked on the road: spare time, flying, limits, somebody leaves, another night, reverse."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from itertools import combinations

from replanner.advice.briefing import Briefing, PlannedLeg
from replanner.advice.names import clean
from replanner.dialogue import replies
from replanner.dialogue.book import BookDay
from replanner.dialogue.by_plan import stand, today
from replanner.dialogue.changing import Outcome, ask_for, change, say
from replanner.dialogue.road_change import from_here, with_tail
from replanner.dialogue.road_intent import RoadWord
from replanner.dialogue.road_told import in_force
from replanner.dialogue.state import Purpose, State
from replanner.trip.model import HaltKind, LegId, PlaceId
from replanner.units import UnitSystem

# Of a small drone, where the tour file gives no figure of its maker: a surf-lifesaving club's rule.
_DRONE_GUST = 9.3
_NEARLY = 0.7  # of the maker's limit: caution. Common practice, no source.
# From here up gusts count as avoid for everybody (bridges restrict motorcycles at 40 mph): a limit
# of one's own below it is the stricter one.
_AVOID_GUST = 17.9
_MOST_STRICTER = 2
_HOUR = timedelta(hours=1)


def spare(state: State, sent: datetime) -> Outcome:
    """Tell what the day can still lose, by the plan in force and not by a what-if."""
    plan = in_force(state)
    if plan is None:
        return say(state, state.words.say("There is no plan shown yet."))
    if not today(state, sent):
        return say(state, replies.spare(plan, state.words))
    return with_tail(state, sent, state.words.say("What the day can still lose:"))


def drone(state: State, sent: datetime) -> Outcome:
    """Hold gust, rain and light at the drone stop against what the drone takes."""
    plan, words = in_force(state), state.words
    rules = words.say("Local rules, owners and wildlife: yours to check.")
    if plan is None:
        return say(state, rules)
    leg, at, limit = _flight(state, plan.briefing, sent)
    head = (
        words.say("{leg}, {time}:", leg=clean(leg.name), time=replies.clock(at, state))
        if leg is not None
        else words.say("Here, {time}:", time=replies.clock(at, state))
    )
    facts = (_gust(state, plan.briefing, at, limit), _rain(state, plan.briefing, at))
    parts = (head, *facts, _light(state, plan.briefing, at), rules)
    return with_tail(state, sent, " ".join(part for part in parts if part))


def _flight(
    state: State, briefing: Briefing, sent: datetime
) -> tuple[PlannedLeg | None, datetime, float]:
    """Return the leg with the next drone stop, when it is reached, and the gust limit. [m/s]."""
    for leg in briefing.legs:
        road = state.book.road.leg(leg.id)
        if road is None or not road.drone or leg.end <= sent:
            continue
        limits = [gust for _, gust in road.drone if gust is not None]
        stops = zip(leg.halts, leg.halt_kinds, strict=False)
        at = [when for (_, when), kind in stops if kind == HaltKind.DRONE and when > sent]
        return leg, at[0] if at else max(sent, leg.start), min(limits, default=_DRONE_GUST)
    return None, sent, _DRONE_GUST


def _gust(state: State, briefing: Briefing, at: datetime, limit: float) -> str:
    words, gust = state.words, _at_hour(briefing, at, "wind_speed_of_gust")
    if gust is None:
        return words.say("gust not known: no.")
    shown = words.say(
        "gust {gust}, limit {limit}", gust=_speed(state, gust), limit=_speed(state, limit)
    )
    if gust >= limit:
        return words.say("{facts}: no.", facts=shown)
    if gust >= _NEARLY * limit:
        return words.say("{facts}: close to it.", facts=shown)
    return words.say("{facts}: within it.", facts=shown)


def _rain(state: State, briefing: Briefing, at: datetime) -> str:
    rain = _at_hour(briefing, at, "rain")
    if rain is None:
        return state.words.say("Rain not known.")
    return state.words.say("Rain: no flying.") if rain > 0 else state.words.say("No rain forecast.")


def _light(state: State, briefing: Briefing, at: datetime) -> str:
    light = briefing.light
    early = light.civil_dawn is not None and at < light.civil_dawn
    late = light.civil_dusk is not None and at > light.civil_dusk
    return state.words.say("Too dark.") if early or late or light.never_light else ""


def _at_hour(briefing: Briefing, at: datetime, name: str) -> float | None:
    """Return a figure of the plan's hours at an instant; None: not known."""
    hours = briefing.hours
    if hours is None:
        return None
    for hour, figure in zip(hours.hours, getattr(hours, name), strict=True):
        if hour <= at < hour + _HOUR:
            return None if figure is None else float(figure)
    return None


def _speed(state: State, metres_per_second: float) -> str:
    if state.book.road.units is UnitSystem.IMPERIAL:
        return state.words.say("{n} mph", n=f"{metres_per_second / 0.44704:.0f}")
    return state.words.say("{n} km/h", n=f"{metres_per_second * 3.6:.0f}")


def limit(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Take a limit of the rider's own on the road only where it is the stricter one."""
    words, here = state.words, stand(state, sent)
    at_home = words.say("Limits are kept in the tour file; I cannot store one by chat yet.")
    if word.metres_per_second is None or here is None or word.trial:
        return with_tail(state, sent, at_home)
    if word.metres_per_second >= _AVOID_GUST:
        line = words.say("{said}: on the road I only take stricter limits.", said=word.said)
        return with_tail(state, sent, line)
    echo = words.say(
        "{said}: I cannot hold one figure; every hazard counts a class worse today.",
        said=word.said,
    )
    stricter = min(state.demands.stricter + 1, _MOST_STRICTER)
    return from_here(state, here, replace(state.demands, stricter=stricter), echo)


def somebody_leaves(state: State, sent: datetime) -> Outcome:
    """Say what a rider fewer means: the limits of the rest are the tour file's."""
    line = state.words.say(
        "One rider leaving: no name is kept. Limits follow the riders in the tour file; until it "
        "is changed the strictest of all still counts. Do not let anybody ride home unsure."
    )
    return with_tail(state, sent, line)


def stay(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Spend tonight at another base, and say what tomorrow becomes."""
    words, day = state.words, state.book.day(state.day)
    if day is None:
        return say(state, words.say("This day is not part of the tour."))
    place: PlaceId = word.place or day.start
    night, booked = _night(state, word, day, place)
    name = clean(state.book.place(place))
    if place == booked:
        return with_tail(state, sent, words.say("You stay in {place} that night.", place=name))
    others = frozenset(pair for pair in state.demands.nights if pair[0] != night)
    wanted = replace(state.demands, nights=others | {(night, place)})
    echo = words.say(
        "Night of {day} in {place}, not in {booked}. {next} Book it yourself.",
        day=f"{night:%a}",
        place=name,
        booked=clean(state.book.place(booked)),
        next=_next_day(state, place, night),
    )
    here = stand(state, sent)
    if word.trial:
        return ask_for(state, wanted, echo, Purpose.TRIAL)
    return change(state, wanted, echo) if here is None else from_here(state, here, wanted, echo)


def _night(state: State, word: RoadWord, day: BookDay, place: PlaceId) -> tuple[date, PlaceId]:
    """Return which night is meant and where it is booked: where they stay tonight anyway, the next.

    A night at a place that was named is tonight.
    """
    nights = dict(state.demands.nights)
    tonight = nights.get(day.date, day.end)
    later = next((one for one in state.book.days if one.date > day.date), None)
    if word.place is not None or tonight != place or later is None:
        return day.date, tonight
    return later.date, nights.get(later.date, later.end)


def _next_day(state: State, place: PlaceId, night: date) -> str:
    words, later = state.words, [day for day in state.book.days if day.date > night]
    if not later:
        return words.say("It is the last day.")
    return words.say(
        "{day} then runs from {start} to {end}.",
        day=f"{later[0].date:%a}",
        start=clean(state.book.place(place)),
        end=clean(state.book.place(later[0].end)),
    )


def reverse(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Try what is left of the day the other way round; say what cannot be."""
    words, here, plan = state.words, stand(state, sent), in_force(state)
    if word.legs:
        return with_tail(state, sent, _both_ways(state, word.legs))
    if plan is None:
        return say(state, words.say("There is no plan shown yet."))
    ahead = here.ahead if here is not None else plan.briefing.legs
    if len(ahead) < 2:  # noqa: PLR2004 - one leg has no order
        legs = tuple(leg.id for leg in ahead)
        line = _both_ways(state, legs) if legs else words.say("Nothing is left to turn round.")
        return with_tail(state, sent, line)
    order = [leg.id for leg in reversed(ahead)]
    # every pair, not neighbours alone: where one falls out, the others keep their order
    turned = frozenset(combinations(order, 2))
    demands = replace(state.demands, before=turned, own_order=False)
    if here is not None:
        demands = replace(demands, underway=here.underway)
    echo = words.say(
        "Reversed: {first} first, {last} last. Which way round each loop is ridden is weighed "
        "already.",
        first=state.book.name(order[0]),
        last=state.book.name(order[-1]),
    )
    return ask_for(state, demands, echo, Purpose.TRIAL)


def _both_ways(state: State, legs: tuple[LegId, ...]) -> str:
    words, told = state.words, []
    for leg in legs:
        road, name = state.book.road.leg(leg), clean(state.book.name(leg))
        if road is not None and road.one_way:
            told.append(words.say("{leg} is one way.", leg=name))
        else:
            told.append(
                words.say("{leg}: both ways are weighed, I cannot force the other.", leg=name)
            )
    return " ".join(told)
