"""The legs of the day in few lines: each with its hour and the one thing to know of it."""

from replanner.advice.briefing import HazardNote, PlannedLeg
from replanner.advice.fitting import Lines, Part, packed, part
from replanner.advice.names import shorten
from replanner.advice.telling import Telling
from replanner.advice.wording import level_word
from replanner.hazards.model import AVOID, CAUTION
from replanner.trip.model import HaltKind

_ONE_A_LINE = 4  # more legs than this share lines
_NOTE_WIDTH = 24
_WIDE = 72  # where legs are many, their lines may run on a little


def legs_part(telling: Telling) -> Part:
    """Return the departure and the legs, falling back from one a line to the dangerous ones."""
    legs = telling.briefing.legs
    if telling.briefing.departure is None:
        return part((_told(telling, legs, 24, full=True, least=0.0), 0))
    one_a_line: Lines = ()
    if len(legs) <= _ONE_A_LINE:
        items = _items(telling, legs, 32, full=True, least=0.0)
        alone = len(legs) + sum(len(leg.pumps) for leg in legs) + len(_breaks(telling))
        with_leaving = len(items) - alone + 1  # leaving and the first leg share a line
        one_a_line = (
            *packed(items[:with_leaving]),
            *(line for item in items[with_leaving:] for line in packed((item,))),
        )
    shared = _told(telling, legs, 24, full=True, least=0.0)
    return part(
        *(((one_a_line, 0),) if one_a_line else ()),
        (shared, 20),
        (_told(telling, legs, 24, full=False, least=CAUTION), 40),
        (packed(_items(telling, legs, 14, full=False, least=CAUTION), _WIDE), 58),
        (_told(telling, legs, 24, full=False, least=AVOID), 62),
        (_told(telling, legs, 12, full=False, least=AVOID), 70),
        (_at_most(telling, 4), 90),
        (_at_most(telling, 2), 98),
        (_at_most(telling, 1), 99),
    )


def _at_most(telling: Telling, lines: int) -> Lines:
    """Return the shortest lines; where they are too many, the harmless legs are only counted."""
    legs = telling.briefing.legs
    told: Lines = ()
    for kept in range(len(legs), -1, -1):
        chosen = sorted(legs, key=lambda leg: -_weight(leg))[:kept]
        items = _items(
            telling, tuple(leg for leg in legs if leg in chosen), 8, full=False, least=AVOID
        )
        more = len(legs) - kept
        if more:
            items = (*items, telling.words.count("and {n} more", "and {n} more", more, n=str(more)))
        told = packed(items, _WIDE)
        if len(told) <= lines:
            break
    return told


def _weight(leg: PlannedLeg) -> float:
    unknown = leg.hazard is not None and leg.hazard.unknown
    return max(leg.severity, CAUTION) if unknown else leg.severity


def _told(
    telling: Telling, legs: tuple[PlannedLeg, ...], width: int, *, full: bool, least: float
) -> Lines:
    return packed(_items(telling, legs, width, full=full, least=least))


def _items(
    telling: Telling, legs: tuple[PlannedLeg, ...], width: int, *, full: bool, least: float
) -> tuple[str, ...]:
    say, clock = telling.words.say, telling.figures.clock
    told = [(leg, _leg(telling, leg, width, full=full, least=least)) for leg in legs]
    items = [
        one
        for leg, item in told
        for one in (
            say("{time} {leg}", time=clock(leg.start), leg=item),
            *_pumps(telling, leg, width),
        )
    ]
    items += _breaks(telling)
    departure = telling.briefing.departure
    if departure is None:
        return tuple(items)
    time = clock(departure)
    if told and clock(legs[0].start) == time:  # the first leg begins at the base
        return (say("Leave {time}, {leg}", time=time, leg=told[0][1]), *items[1:])
    return (say("Leave {time}", time=time), *items)


def _pumps(telling: Telling, leg: PlannedLeg, width: int) -> tuple[str, ...]:
    """Return the fuel that only the tank demands: whoever rides past it runs dry."""
    say, clock = telling.words.say, telling.figures.clock
    return tuple(
        say("{time} fuel, {place}", time=clock(reached), place=telling.place(place, width))
        for place, reached in leg.pumps
    )


def _breaks(telling: Telling) -> tuple[str, ...]:
    """Return when to take the breaks that no halt is, all in one: where is the rider's choice."""
    clock = telling.figures.clock
    times = tuple(clock(begins) for leg in telling.briefing.legs for _, begins in leg.breaks)
    count = telling.words.count(
        "break {times}", "breaks {times}", len(times), times=", ".join(times)
    )
    return (count,) if times else ()


def _leg(telling: Telling, leg: PlannedLeg, width: int, *, full: bool, least: float) -> str:
    name = telling.leg(leg.id, width)
    thing = _thing(telling, leg, full=full, least=least)
    if not thing:
        return name
    return telling.words.say("{leg}: {thing}", leg=name, thing=thing)


def _thing(telling: Telling, leg: PlannedLeg, *, full: bool, least: float) -> str:
    """Return the one thing to know: danger, boat, window, caution, turning back, halt."""
    say, note = telling.words.say, leg.hazard
    if (note is not None and note.unknown) or leg.severity >= AVOID:
        return _danger(telling, leg, full=full, brief=least >= AVOID)
    if leg.sailing is not None:
        return say("boat {time}", time=telling.figures.clock(leg.sailing))
    if leg.note and least < AVOID:
        return shorten(telling.words.as_given(leg.note), _NOTE_WIDTH)
    if note is not None and leg.severity >= max(CAUTION, least):
        return telling.hazard(note, limit=False, figure=full)
    return _quiet(telling, leg) if full else ""


def _quiet(telling: Telling, leg: PlannedLeg) -> str:
    """Return what to know of a leg without danger: when to turn back, else where to halt."""
    say, clock = telling.words.say, telling.figures.clock
    if leg.turn_back is not None:
        return say("turn back by {time}", time=clock(leg.turn_back))
    return _halt(telling, leg)


_HALTS = {"photo": "photo", "drone": "drone", "fuel": "fuel", "cafe": "café", "visit": "visit"}


def _halt(telling: Telling, leg: PlannedLeg) -> str:
    """Return the first halt that has its hour: for a picture or fuel; else the first of all."""
    halts = [
        (kind, place, reached)
        for kind, place, reached in leg.halts_by_kind
        if (place, reached) not in leg.pumps  # told by themselves
    ]
    if not halts:
        return ""
    kind, place, reached = min(halts, key=lambda halt: halt[0] not in _HAS_ITS_HOUR)
    return telling.words.say(
        "{halt} {time} at {place}",
        halt=telling.words.say(_HALTS.get(kind, "halt")),
        time=telling.figures.clock(reached),
        place=telling.place(place, _NOTE_WIDTH),
    )


_HAS_ITS_HOUR = (HaltKind.PHOTO, HaltKind.DRONE, HaltKind.FUEL)


def _danger(telling: Telling, leg: PlannedLeg, *, full: bool, brief: bool) -> str:
    say, note = telling.words.say, leg.hazard
    level = level_word(leg.severity, telling.words)
    unknown = note is not None and note.unknown
    if unknown and leg.severity < AVOID:
        level = say("no data")
    if note is None or brief:
        return level
    if unknown and leg.severity < AVOID:
        return _beside(telling, note)
    hazard = telling.hazard(note, limit=False, figure=full)
    if unknown:
        hazard = _beside(telling, note)
    return say("{level}, {hazard}", level=level, hazard=hazard)


def _beside(telling: Telling, note: HazardNote) -> str:
    """Return what is not known, with the worst known beside it."""
    unknown = telling.hazard(note)
    if note.also is None or note.also.unknown:
        return unknown
    known = telling.hazard(note.also, limit=False)
    return telling.words.say("{unknown}; {known}", unknown=unknown, known=known)
