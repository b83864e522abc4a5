"""Limits in the way, demands that clash and what makes plan B better, put into words."""

from collections.abc import Callable, Mapping
from math import ceil

from replanner.advice.briefing import BetterKind, BetterWhen, Hurdle, HurdleKind
from replanner.advice.figures import scale_of
from replanner.advice.telling import Telling
from replanner.planning.demand import Demand, DemandKind

_ON_A_LEG: Mapping[HurdleKind, str] = {
    HurdleKind.HAZARD: "no-go weather on {leg}",
    HurdleKind.WINDOW: "opening hours of {leg}",
    HurdleKind.TIDE: "tide at {leg}",
    HurdleKind.SAILING: "no boat for {leg}",
    HurdleKind.LIGHT: "last light on {leg}",
    HurdleKind.HALT: "a halt on {leg}",
    HurdleKind.TANK: "the smallest tank on {leg}",
}
_ALONE: Mapping[HurdleKind, str] = {
    HurdleKind.HAZARD: "no-go weather",
    HurdleKind.WINDOW: "opening hours",
    HurdleKind.TIDE: "tide",
    HurdleKind.SAILING: "no boat",
    HurdleKind.LIGHT: "last light",
    HurdleKind.HALT: "a halt",
    HurdleKind.DUSK: "dusk",
    HurdleKind.LATEST_ARRIVAL: "latest arrival",
    HurdleKind.RECEPTION: "reception",
    HurdleKind.DARKNESS: "darkness",
    HurdleKind.END_OF_DAY: "end of the day",
    HurdleKind.TIME: "time",
    HurdleKind.TANK: "the smallest tank",
}
_WANTED: Mapping[HurdleKind, str] = {
    HurdleKind.HAZARD: "better weather",
    HurdleKind.WINDOW: "other opening hours",
    HurdleKind.TIDE: "another tide",
    HurdleKind.SAILING: "another sailing",
    HurdleKind.LIGHT: "more daylight",
    HurdleKind.HALT: "another hour",
    HurdleKind.TIME: "more time",
    HurdleKind.TANK: "fuel on the way",
}
NEVER_WORDS: Mapping[HurdleKind, str] = {
    HurdleKind.WINDOW: "not open when it fits the day",
    HurdleKind.TIDE: "no tide that fits the day",
    HurdleKind.SAILING: "no sailing that fits the day",
    HurdleKind.LIGHT: "not light enough",
}
"""What stands against a leg from morning to evening, whatever else is asked of the day."""
_BETTER: Mapping[BetterKind, tuple[str, str]] = {  # with the leg, without
    BetterKind.MILDER: (
        "it is better than forecast on {leg}",
        "the weather turns out better than forecast",
    ),
    BetterKind.WORSE: (
        "it is worse than forecast on {leg}",
        "the weather turns out worse than forecast",
    ),
    BetterKind.WISH: ("you would rather ride {leg}", "you would rather ride its legs"),
}
_NAME = 24  # characters of a name in a list of demands


def limit_words(telling: Telling, hurdle: Hurdle, width: int, *, hour: bool = False) -> str:
    """Return which limit it is: a window's own name, else its kind, with the leg.

    Parameters
    ----------
    width : int
        Characters of a name.
    hour : bool
        With the hour it is met, where that is known.
    """
    say = telling.words.say
    if hurdle.name:
        told = telling.place(hurdle.name, width)
    elif hurdle.leg is not None and hurdle.kind in _ON_A_LEG:
        told = say(_ON_A_LEG[hurdle.kind], leg=telling.leg(hurdle.leg, width))
    else:
        told = say(_ALONE[hurdle.kind])
    if not hour or hurdle.at is None:
        return told
    return say("{limit} at {time}", limit=told, time=telling.figures.clock(hurdle.at))


def never_words(telling: Telling, hurdle: Hurdle) -> str:
    """Return what stands against a leg all day; a window with its own name."""
    told = telling.words.say(NEVER_WORDS[hurdle.kind])
    if not hurdle.name:
        return told
    name = telling.place(hurdle.name, _NAME)
    return telling.words.say("{window}, {never}", window=name, never=told)


def wanted_words(telling: Telling, hurdle: Hurdle | None, width: int) -> str:
    """Return what would have to change for a leg to be ridden; empty: nothing is known."""
    if hurdle is None:
        return ""
    if hurdle.name:
        return telling.words.say(
            "other hours of {window}", window=telling.place(hurdle.name, width)
        )
    return telling.words.say(_WANTED.get(hurdle.kind, "a later arrival"))


def better_words(telling: Telling, better: BetterWhen, width: int) -> str:
    """Return when a second plan is the better one; width 0: without the leg."""
    with_leg, without = _BETTER[better.kind]
    if better.leg is None or not width:
        return telling.words.say(without)
    return telling.words.say(with_leg, leg=telling.leg(better.leg, width))


def demand_words(telling: Telling, demand: Demand) -> str:
    """Return a demand on the day as a rider would say it, in local time."""
    return _DEMANDS[demand.kind](telling, demand)


def _riding(telling: Telling, demand: Demand) -> str:
    legs = _legs(telling, demand, telling.words.say("or"))
    return telling.words.say("riding {legs}", legs=legs)


def _before(telling: Telling, demand: Demand) -> str:
    first, then = (telling.leg(leg, _NAME) for leg in demand.legs)
    return telling.words.say("{first} before {then}", first=first, then=then)


def _not_both(telling: Telling, demand: Demand) -> str:
    legs = _legs(telling, demand, telling.words.say("and"))
    if len(demand.legs) > 2:  # noqa: PLR2004 - of two it is "not both"
        return telling.words.say("only one of {legs}", legs=legs)
    return telling.words.say("not both {legs}", legs=legs)


def _legs(telling: Telling, demand: Demand, last: str) -> str:
    return f" {last} ".join(telling.leg(leg, _NAME) for leg in demand.legs)


def _start_by(telling: Telling, demand: Demand) -> str:
    if demand.by is None:
        return telling.words.say("leaving in time")
    return telling.words.say("leaving by {time}", time=telling.figures.clock(demand.by))


def _end_by(telling: Telling, demand: Demand) -> str:
    if demand.by is None:
        return telling.words.say("being in in time")
    return telling.words.say("being in by {time}", time=telling.figures.clock(demand.by))


def _a_way(telling: Telling, _: Demand) -> str:
    return telling.words.say("a way from the start to the end of the day")


def kilometres(telling: Telling, km: float) -> str:
    """Return a distance [km] in the rider's unit, begun ones counted whole."""
    scale = scale_of("km", telling.briefing.units)
    return telling.figures.measure(ceil(round(km * scale.factor, 6)), 0, scale)


def _tank(telling: Telling, demand: Demand) -> str:
    say, short = telling.words.say, kilometres(telling, demand.lacking_km or 0.0)
    if not demand.legs:
        return say("the smallest tank: {km} short on the way in, add a fuel halt", km=short)
    leg = telling.leg(demand.legs[0], _NAME)
    return say("the smallest tank: {km} short on {leg}, add a fuel halt", km=short, leg=leg)


_DEMANDS: Mapping[DemandKind, Callable[[Telling, Demand], str]] = {
    DemandKind.RIDE: _riding,
    DemandKind.BEFORE: _before,
    DemandKind.AT_MOST_ONE: _not_both,
    DemandKind.START_BY: _start_by,
    DemandKind.END_BY: _end_by,
    DemandKind.A_WAY: _a_way,
    DemandKind.TANK: _tank,
}
