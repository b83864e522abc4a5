"""What to do, read aloud: the decision, the hour of leaving, and the legs.

A leg that needs care is always named, with its hour where that matters; plain legs are joined in
one sentence, and only counted where time is short.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum
from itertools import groupby
from typing import NamedTuple

from replanner.advice.barred_lines import barred
from replanner.advice.briefing import ChangeKind, Decision, PlannedLeg
from replanner.advice.fitting import Lines, Part, part
from replanner.advice.headline import AT_ONCE, decision_word, essence, essence_legs, weightiest
from replanner.advice.telling import SpokenTelling
from replanner.advice.wording import level_word
from replanner.hazards.model import AVOID, CAUTION
from replanner.trip.model import LegId, LegKind

_WIDE, _NARROW = 40, 14  # characters of a name


class _Weight(IntEnum):
    """How much a leg must be heard of."""

    PLAIN = 0
    CAREFUL = 1  # a caution is met
    TIMED = 2  # its hour matters: a pass, a boat, a leg that was moved or can be chosen
    GRAVE = 3  # to be avoided, no-go or not known


@dataclass(frozen=True, slots=True, kw_only=True)
class _Detail:
    """How much is told of the legs.

    Parameters
    ----------
    width : int
        Characters of a name; 0: as few as can be, and the bare decision.
    timed, things, named : _Weight
        From this weight on a leg is told with its hour, with what is met on it, at all.
    figures : bool
        What is met is told with its figure.
    most : int or None
        At most so many legs are told, the weightiest.
    """

    width: int = _NARROW
    timed: _Weight = _Weight.GRAVE
    things: _Weight = _Weight.GRAVE
    named: _Weight = _Weight.PLAIN
    figures: bool = False
    most: int | None = None


_PLAIN, _CAREFUL, _TIMED, _GRAVE = _Weight

# From all there is to tell down to what must be heard, with the pain of each.
_DETAILS = (
    (_Detail(width=_WIDE, timed=_PLAIN, things=_CAREFUL, figures=True), 0),
    (_Detail(width=_WIDE, timed=_TIMED, things=_CAREFUL), 20),
    (_Detail(timed=_TIMED, things=_CAREFUL), 36),
    (_Detail(timed=_TIMED, things=_CAREFUL, named=_CAREFUL), 52),
    (_Detail(things=_CAREFUL, named=_CAREFUL), 64),
    (_Detail(named=_CAREFUL), 74),
    (_Detail(named=_TIMED), 76),
    (_Detail(named=_GRAVE), 80),
    (_Detail(most=4), 84),
    (_Detail(most=2), 88),
    (_Detail(width=0, most=1), 92),
    (_Detail(width=0, most=0), 96),
)


def decision_and_legs(telling: SpokenTelling) -> Part:
    """Return the decision with what it comes down to, the hour of leaving and the legs."""
    if telling.briefing.departure is None:
        whole, narrow, bare = (_decision(telling, width) for width in (_WIDE, _NARROW, 0))
        return part((whole, 0), (narrow, 27), (bare, 75))
    return part(*((_told(telling, detail), pain) for detail, pain in _DETAILS))


def _decision(telling: SpokenTelling, width: int) -> str:
    """Return day and decision with what it comes down to; width 0: without that."""
    say, decision = telling.words.say, telling.briefing.decision
    date = telling.figures.date(telling.briefing.date)
    word = decision_word(decision, telling.words, loud=False)
    if width == 0 or _said_anyway(telling):
        return say("{date}, {decision}.", date=date, decision=word)
    told = essence(telling, width)
    if decision in (Decision.LEAVE_OUT, Decision.ADD):
        return say("{date}, {decision} {essence}.", date=date, decision=word, essence=told)
    return say("{date}, {decision}. {essence}.", date=date, decision=word, essence=told)


_LEAVING = (Decision.LEAVE_LATER, Decision.LEAVE_EARLIER)


def _said_anyway(telling: SpokenTelling) -> bool:
    """Return whether the sentences that follow say what the decision comes down to."""
    briefing = telling.briefing
    if briefing.decision is Decision.NO_WAY:
        return bool(barred(telling))
    said = (Decision.AS_PLANNED, Decision.AS_ASKED, *_LEAVING)
    return briefing.decision in said and briefing.departure is not None


def _told(telling: SpokenTelling, detail: _Detail) -> Lines:
    """Return decision, leaving and legs in so much detail."""
    legs = telling.briefing.legs
    bare = detail.width == 0 or _said_anyway(telling)
    known = frozenset() if bare else essence_legs(telling)
    chosen = _chosen(telling, detail)
    leave, told_with_it = _leave(telling, detail, known)
    items = [
        _leg(telling, detail, leg, known=leg.id in known)
        for leg in legs
        if leg in chosen and leg.id != told_with_it
    ]
    more = sum(leg not in chosen and leg.id not in known | {told_with_it} for leg in legs)
    counted = telling.words.count(
        "And {n} more leg.", "And {n} more legs.", more, n=telling.figures.number(more)
    )
    return (
        _decision(telling, detail.width),
        leave,
        *_sentences(
            telling, [item for item in items if item.told], first=not told_with_it and not known
        ),
        counted if more else "",
        *(_pumps(telling) if detail.most is None else ()),
        _breaks(telling) if detail.most is None else "",
    )


def _pumps(telling: SpokenTelling) -> tuple[str, ...]:
    """Return the fuel that only the tank demands."""
    return tuple(
        telling.words.say(
            "Fuel at {place} at {time}.",
            place=telling.place(place, _WIDE),
            time=telling.figures.clock(reached),
        )
        for leg in telling.briefing.legs
        for place, reached in leg.pumps
    )


def _breaks(telling: SpokenTelling) -> str:
    """Return the breaks that are not halts."""
    say, clock = telling.words.say, telling.figures.clock
    times = tuple(clock(at) for leg in telling.briefing.legs for _, at in leg.breaks)
    if not times:
        return ""
    one, more = "A break at {times}.", "Breaks at {times}."
    return say(more if times[1:] else one, times=telling.words.listed(times))


def _chosen(telling: SpokenTelling, detail: _Detail) -> tuple[PlannedLeg, ...]:
    legs = telling.briefing.legs
    kept = [leg for leg in legs if _weight(telling, leg) >= detail.named]
    if detail.most is None:
        return tuple(kept)
    kept.sort(key=lambda leg: (-_weight(telling, leg), -leg.severity))
    return tuple(kept[: detail.most])


def _leave(
    telling: SpokenTelling, detail: _Detail, known: frozenset[LegId]
) -> tuple[str, LegId | None]:
    """Return the hour of leaving, with the first leg where it begins then, and that leg."""
    briefing, say, clock = telling.briefing, telling.words.say, telling.figures.clock
    if briefing.departure is None:
        return "", None
    time, legs = clock(briefing.departure), briefing.legs
    change = weightiest(telling, ChangeKind.DEPARTURE)
    if briefing.decision in _LEAVING and change is not None and change.own_start is not None:
        return say("Leave at {time}, not {own}.", time=time, own=clock(change.own_start)), None
    if detail.most is not None or not legs or legs[0].id in known or clock(legs[0].start) != time:
        return say("Leave at {time}.", time=time), None
    first = _leg(telling, detail, legs[0], known=True)
    name = first.told or telling.leg(legs[0].id, detail.width)
    return say("Leave at {time}, {leg}.", time=time, leg=name), legs[0].id


class _Item(NamedTuple):
    """What is said of a leg; `joined`: its bare name, to be listed with others."""

    told: str
    joined: bool


def _leg(telling: SpokenTelling, detail: _Detail, leg: PlannedLeg, *, known: bool) -> _Item:
    """Return what is said of a leg; nothing where its hour is known and no more is to say."""
    say, weight = telling.words.say, _weight(telling, leg)
    thing = _thing(telling, leg, figures=detail.figures) if weight >= detail.things else ""
    name = telling.leg(leg.id, detail.width or _NARROW)
    time = "" if known or weight < detail.timed else telling.figures.clock(leg.start)
    if leg is telling.briefing.legs[0] and leg.start == telling.briefing.departure:
        time = ""  # told with leaving
    if time and leg.sailing is not None:
        boat = say("{leg}, boat {time}", leg=name, time=telling.figures.clock(leg.sailing))
        return _Item(say("{leg}, {thing}", leg=boat, thing=thing) if thing else boat, joined=False)
    if time and thing:
        return _Item(
            say("{leg} at {time}, {thing}", leg=name, time=time, thing=thing), joined=False
        )
    if time:
        return _Item(say("{leg} at {time}", leg=name, time=time), joined=False)
    if thing:
        return _Item(say("{leg}, {thing}", leg=name, thing=thing), joined=False)
    return _Item("" if known else name, joined=True)


def _sentences(telling: SpokenTelling, items: list[_Item], *, first: bool) -> Iterator[str]:
    """Give the legs in riding order, bare names that follow each other in one sentence."""
    say = telling.words.say
    for number, (joined, group) in enumerate(groupby(items, key=lambda item: item.joined)):
        told = [item.told for item in group]
        if not joined:
            yield from (say("{leg}.", leg=leg) for leg in told)
        elif first and number == 0:
            yield say("First {legs}.", legs=telling.words.listed(tuple(told)))
        else:
            yield say("Then {legs}.", legs=telling.words.listed(tuple(told)))


def _weight(telling: SpokenTelling, leg: PlannedLeg) -> _Weight:
    briefing = telling.briefing
    if leg.severity >= AVOID or (leg.hazard is not None and leg.hazard.unknown):
        return _Weight.GRAVE
    changed = {
        key
        for change in briefing.changes
        if change.kind is ChangeKind.MOVED
        for key in (change.leg, change.other_leg)
    }
    chosen = {point.leg for point in briefing.decision_points[:1]}  # the one told aloud
    waited_for = leg is briefing.legs[0] and leg.start - (briefing.departure or leg.start) > AT_ONCE
    hour_matters = leg.kind in (LegKind.PASS, LegKind.CROSSING) or leg.id in changed | chosen
    if hour_matters or waited_for:
        return _Weight.TIMED
    return _Weight.CAREFUL if leg.severity >= CAUTION else _Weight.PLAIN


def _thing(telling: SpokenTelling, leg: PlannedLeg, *, figures: bool) -> str:
    """Return what is met on a leg: its level from avoid on, the hazard."""
    note, level = leg.hazard, level_word(leg.severity, telling.words)
    if note is not None and note.unknown and leg.severity < AVOID:
        return telling.hazard(note)
    if leg.severity < CAUTION:
        return ""
    if note is None or note.unknown:
        return level
    hazard = telling.hazard(note, limit=False, figure=figures)
    if leg.severity < AVOID:
        return hazard
    return telling.words.say("{level}, {hazard}", level=level, hazard=hazard)
