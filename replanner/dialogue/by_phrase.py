"""From a typed line to what it means; pure, and never by guess where a plan would change.

The phrases are data (`phrases`), this module fills their slots with legs, days and times.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, time

from replanner.dialogue import matching
from replanner.dialogue.book import TourBook
from replanner.dialogue.emergency import calls_loudly
from replanner.dialogue.intent_types import (
    Close,
    Doubtful,
    Intent,
    IsOpen,
    KeepOrder,
    Late,
    LeaveAt,
    NotUnderstood,
    Option,
    Plain,
    PlanDay,
    Reopen,
    Ride,
    Skip,
    SwapLegs,
    ToDay,
    UnknownDay,
    UnknownName,
    WeatherOn,
    Which,
    WhyLeg,
    topic_of,
)
from replanner.dialogue.log_line import read_log
from replanner.dialogue.names import find_name, only_a_kind, words_of
from replanner.dialogue.phrases import ASKING
from replanner.dialogue.road_intent import OBSERVED, ROAD_TOPICS, RoadWord
from replanner.dialogue.road_slots import road_word
from replanner.dialogue.sure_lines import sure_line
from replanner.dialogue.tank_alone import tank_alone
from replanner.dialogue.times import day_of, minutes_of, nearly_a_day, wall_times
from replanner.dialogue.topics import Topic
from replanner.dialogue.unfit import Unfit as _Unfit
from replanner.trip.model import LegId

_SIGNS = {
    "\N{SQUARED SOS}": Topic.EMERGENCY,
    "\N{THUMBS UP SIGN}": Topic.OK,
    "\N{OK HAND SIGN}": Topic.OK,
    "\N{WHITE HEAVY CHECK MARK}": Topic.OK,
    "\N{THUMBS DOWN SIGN}": Topic.NO,
    "\N{CROSS MARK}": Topic.NO,
}
_LEADING = frozenset({"ok", "okay", "yes", "yeah", "and", "but", "also", "oh", "hmm", "um"})
_AGREEING = frozenset({Topic.YES, Topic.OK, Topic.ACCEPT, Topic.NO, Topic.UNDO})
_LIST_MARKS = re.compile(r"[,&+/;]")
_JOINING = frozenset({"and", "plus", "also"})
_MOST_OPTIONS = 4
_MOST_OF_A_DAY = 9
# A verb alone: of which leg? The topic, and the slot its leg fills.
_VERBS: Mapping[str, tuple[Topic, str]] = {
    "skip": (Topic.SKIP, "legs"),
    "drop": (Topic.SKIP, "legs"),
    "closed": (Topic.CLOSED, "legs"),
    "ride": (Topic.RIDE, "legs"),
}


# Words of a closure that tell no day: over tonight, or not before the tour is.
_TODAY = frozenset({"today", "tonight", "evening", "lunch", "later"})
_LASTING = frozenset(
    {"days", "week", "weeks", "weekend", "month", "months", "season", "winter", "year", "good"}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hearing:
    """What a line is understood against.

    Parameters
    ----------
    book : TourBook
    day : date
        The day spoken about.
    today : date
        Local date on which the line was sent.
    planned, left_out : frozenset of LegId
        Legs of the plan shown last, and legs it leaves out: they decide between names that fit
        equally well where only one can be meant.
    """

    book: TourBook
    day: date
    today: date
    planned: frozenset[LegId] = field(default_factory=frozenset)
    left_out: frozenset[LegId] = field(default_factory=frozenset)

    @property
    def name_words(self) -> frozenset[str]:
        """Words the names of the tour are made of."""
        return matching.words_in([name for _, name in self.book.names])

    @property
    def place_words(self) -> frozenset[str]:
        """Words the names of its places are made of."""
        return matching.words_in([name for _, name in self.book.places])


def by_phrase(text: str, hearing: Hearing) -> Intent:
    """Return what a line means if it is one of the phrases.

    Parameters
    ----------
    text : str
        Anything at all.
    hearing : Hearing
        The tour and the plan it is said about.

    Examples
    --------
    >>> book = TourBook(zone="UTC", names=(("quern", "Quern Point loop"),))
    >>> hearing = Hearing(book=book, day=date(2027, 4, 3), today=date(2027, 4, 2))
    >>> by_phrase("Skip the Qeurn loop, please", hearing)
    Skip(legs=('quern',), trial=False)
    """
    intent = _understood(text, hearing)
    if isinstance(intent, NotUnderstood | UnknownName) and _LIST_MARKS.search(text):
        listed = _understood(_LIST_MARKS.sub(" and ", text), hearing)
        intent = intent if isinstance(listed, NotUnderstood) else listed
    return intent


def _understood(text: str, hearing: Hearing) -> Intent:
    words = words_of(text)
    if calls_loudly(words, hearing.name_words):
        return Plain(Topic.EMERGENCY)
    log = read_log(text, dict(hearing.book.names), hearing.planned)
    if log is not None:
        return log
    if not words:
        return next(
            (Plain(topic) for sign, topic in _SIGNS.items() if sign in text), NotUnderstood(())
        )
    core = matching.without_noise(words)
    asked = "?" in text or (len(core) > 1 and core[0] in ASKING)
    if len(core) > 1 and core[0] in ASKING:
        core = core[1:]
    intent = _meaning(core, hearing)
    return _as_question(intent) if asked else intent


def _meaning(core: tuple[str, ...], hearing: Hearing) -> Intent:
    tank = tank_alone(core, hearing.name_words)
    core = tank.words
    intent = _plainly(core, hearing)
    if tank.going_on and intent is not None and topic_of(intent) is Topic.FILLED:
        place = intent.place if isinstance(intent, RoadWord) else None
        return RoadWord(topic=Topic.FILLED, place=place, going_on=True)
    if intent is None or isinstance(intent, UnknownName | UnknownDay):
        rest = matching.without_opener(core)
        supposed = _plainly(rest, hearing) if rest else None
        if supposed is not None:
            return _as_question(supposed)
    if (
        (intent is None or isinstance(intent, UnknownName))
        and len(core) > 1
        and core[0] in _LEADING
    ):
        rest_meant = _meaning(core[1:], hearing)
        if not isinstance(rest_meant, NotUnderstood | UnknownName):
            return rest_meant
    return intent if intent is not None else NotUnderstood(())


def _plainly(core: tuple[str, ...], hearing: Hearing) -> Intent | None:
    """Return what the words mean as one phrase of the table, None if they are none."""
    unfit: Intent | None = None
    for match in matching.matches(core, hearing.name_words):
        try:
            intent = _filled(match, hearing)
            return _doubted(match, intent) if match.doubtful else intent
        except _Unfit as reason:
            unfit = unfit or reason.answer
    if unfit is not None:
        return unfit
    return _bare(core, hearing)


def _doubted(match: matching.Match, intent: Intent) -> Intent:
    """Ask about a change where a mistyped word could have been another one."""
    if isinstance(intent, Which):
        return intent
    slots = {slot: " ".join(words) for slot, words in match.slots.items()}
    line = sure_line(match.topic, slots)
    return Which(match.topic, (Option(line, line),))


def _bare(core: tuple[str, ...], hearing: Hearing) -> Intent | None:
    """Take a name alone as a question about that leg; ask a verb alone what of."""
    found = find_name(" ".join(core), dict(hearing.book.names))
    if len(found.best) == 1:
        return WhyLeg(found.best[0])
    if found.best:
        return Which(
            Topic.WHY_LEG,
            tuple(
                Option(
                    hearing.book.name(leg),
                    sure_line(Topic.WHY_LEG, {"leg": hearing.book.name(leg)}),
                )
                for leg in found.best[:_MOST_OPTIONS]
            ),
        )
    if len(core) == 1 and core[0] in _VERBS:
        topic, chosen = _VERBS[core[0]]
        legs = hearing.left_out if topic is Topic.RIDE else hearing.planned
        options = tuple(
            Option(name, sure_line(topic, {chosen: name}))
            for leg, name in hearing.book.names
            if leg in legs
        )
        return Which(topic, options[:_MOST_OF_A_DAY]) if options else NotUnderstood((topic,))
    return None


def _as_question(intent: Intent) -> Intent:  # noqa: PLR0911 - one case an intent
    """Only try a change that is asked about; take no agreement from a question."""
    match intent:
        case Skip() | Ride() | ToDay() | SwapLegs() | LeaveAt() | RoadWord():
            return replace(intent, trial=True)
        case KeepOrder():
            return Plain(Topic.OWN_ORDER)
        case Close(legs=legs) | Reopen(legs):
            return IsOpen(legs)
        case Plain(topic) if topic in _AGREEING:
            return Doubtful()
        case Plain(topic) if topic in OBSERVED:
            return RoadWord(topic=topic, trial=True)
        case Which(about, options):
            return Which(about, tuple(replace(o, says=f"what if {o.says}") for o in options))
        case _:
            return intent


def _filled(match: matching.Match, hearing: Hearing) -> Intent:  # noqa: C901, PLR0911, PLR0912 - one case a topic
    slots = match.slots
    match match.topic:
        case Topic.SKIP:
            return Skip(_legs(match, hearing, hearing.planned))
        case Topic.RIDE:
            return Ride(_legs(match, hearing, hearing.left_out))
        case Topic.CLOSED:
            return Close(_legs(match, hearing, frozenset()), _closed_until(slots, hearing))
        case Topic.OPENED:
            return Reopen(_legs(match, hearing, frozenset()))
        case Topic.IS_OPEN:
            return IsOpen(_legs(match, hearing, frozenset()) if "legs" in slots else ())
        case Topic.SWAP_DAY:
            day = _day(slots["day"], hearing)  # first: without a day it is another phrase
            return ToDay(_leg(match, "leg", hearing), day)
        case Topic.SWAP_WHOLE_DAY:
            return ToDay(None, _day(slots["day"], hearing))
        case Topic.SWAP_LEGS:
            _refuse_a_mistyped_day(slots["other"], hearing)
            return SwapLegs(_leg(match, "leg", hearing), _leg(match, "other", hearing))
        case Topic.IN_ORDER:
            first, second = _leg(match, "leg", hearing), _leg(match, "other", hearing)
            return SwapLegs(first, second, in_order=True)
        case Topic.LEAVE_AT:
            return LeaveAt(_time(slots["time"]))
        case Topic.KEEP:
            return KeepOrder()
        case Topic.WHY_LEG:
            return WhyLeg(_leg(match, "leg", hearing))
        case Topic.WEATHER_LEG:
            return WeatherOn(_leg(match, "leg", hearing))
        case Topic.TONIGHT if {"leg", "legs"} & set(slots):
            slot = "legs" if "legs" in slots else "leg"
            return Ride(_pieces(slots[slot], hearing, hearing.left_out, match), trial=True)
        case Topic.LATE:
            return Late(_minutes(slots["minutes"]) if "minutes" in slots else None)
        case Topic.PLAN_NOW:
            return PlanDay(_day(slots["day"], hearing) if "day" in slots else None)
        case topic if topic in ROAD_TOPICS and slots:
            return road_word(match, hearing.book, lambda: _named(match, hearing))
        case _:
            for slot in {"leg", "legs"} & set(slots):
                _pieces(slots[slot], hearing, frozenset(), match)
            return Plain(match.topic)


def _legs(match: matching.Match, hearing: Hearing, likely: frozenset[LegId]) -> tuple[LegId, ...]:
    return tuple(dict.fromkeys(_pieces(match.slots["legs"], hearing, likely, match)))


def _named(match: matching.Match, hearing: Hearing) -> tuple[LegId, ...]:
    slot = "legs" if "legs" in match.slots else "leg"
    return tuple(dict.fromkeys(_pieces(match.slots[slot], hearing, hearing.planned, match)))


def _leg(match: matching.Match, slot: str, hearing: Hearing) -> LegId:
    return _one(match.slots[slot], hearing, hearing.planned, match, slot)


def _pieces(
    said: tuple[str, ...], hearing: Hearing, likely: frozenset[LegId], match: matching.Match
) -> tuple[LegId, ...]:
    """Find one leg in the words, or several joined by "and"."""
    slot = "legs" if "legs" in match.slots else "leg"
    if not _JOINING & set(said) or find_name(" ".join(said), dict(hearing.book.names)).best:
        return (_one(said, hearing, likely, match, slot),)
    pieces: list[list[str]] = [[]]
    for word in said:
        if word in _JOINING:
            pieces.append([])
        else:
            pieces[-1].append(word)
    return tuple(_one(tuple(piece), hearing, likely, match, slot) for piece in pieces if piece)


def _one(
    said: tuple[str, ...],
    hearing: Hearing,
    likely: frozenset[LegId],
    match: matching.Match,
    slot: str,
) -> LegId:
    """Find the one leg that was named, or say which ones it could be."""
    names = dict(hearing.book.names)
    found = find_name(" ".join(said), names)
    best = _of_kind(said, found.best, hearing)
    if len(best) > 1:
        best = tuple(leg for leg in best if leg in likely) or best
    if len(best) == 1:
        return best[0]
    if not best:
        raise _Unfit(UnknownName(" ".join(said), found.near))
    options = []
    for leg in best[:_MOST_OPTIONS]:
        slots = {key: " ".join(words) for key, words in match.slots.items()}
        slots[slot] = slots[slot].replace(" ".join(said), names[leg], 1)
        options.append(Option(names[leg], sure_line(match.topic, slots)))
    raise _Unfit(Which(match.topic, tuple(options)))


def _of_kind(said: tuple[str, ...], best: tuple[LegId, ...], hearing: Hearing) -> tuple[LegId, ...]:
    """Widen "the pass" to every pass of the day, whatever it is called."""
    kinds = only_a_kind(" ".join(said))
    if kinds is None:
        return best
    day = hearing.planned | hearing.left_out
    fits = [leg for leg, kind in hearing.book.kinds if kind in kinds or leg in best]
    return tuple(leg for leg in fits if leg in day) or tuple(fits) or best


def _day(said: tuple[str, ...], hearing: Hearing) -> date:
    found = day_of(said, hearing.book.dates, hearing.today, hearing.day)
    if found is None:
        raise _Unfit(UnknownDay(" ".join(said)))
    if isinstance(found, str):
        raise _Unfit(UnknownDay(found))
    return found


def _closed_until(slots: Mapping[str, tuple[str, ...]], hearing: Hearing) -> date | None:
    """Return the last day of a closure; None: no more was said than that it is closed now.

    A day beyond the tour, or words that are no hour either ("further notice", "the season"), count
    to the end of the tour. The day named counts as closed, too: it may open late on it.
    """
    said = slots.get("day", ())
    if not said:
        return hearing.book.dates[-1] if _LASTING & set(slots.get("remark", ())) else None
    if wall_times(said) or _TODAY & set(said):
        return None
    found = day_of(said, hearing.book.dates, hearing.today, hearing.day)
    return found if isinstance(found, date) else hearing.book.dates[-1]


def _time(said: tuple[str, ...]) -> time:
    found = wall_times(said)
    if len(found) == 1:
        return found[0]
    if not found:
        raise _Unfit(NotUnderstood((Topic.LEAVE_AT,)))
    raise _Unfit(
        Which(
            Topic.LEAVE_AT,
            tuple(Option(f"{wall:%H:%M}", f"leave at {wall:%H:%M}") for wall in found),
        )
    )


def _refuse_a_mistyped_day(said: tuple[str, ...], hearing: Hearing) -> None:
    doubtful = [word for word in said if word not in hearing.name_words and nearly_a_day(word)]
    if doubtful:
        raise _Unfit(UnknownDay(" ".join(said)))


def _minutes(said: tuple[str, ...]) -> float:
    found = minutes_of(said)
    if found is None:
        raise _Unfit(NotUnderstood((Topic.LATE,)))
    return found
