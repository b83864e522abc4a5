"""The table of phrasings, read; and what comes of a line in a conversation under way.

`python -m tests.dialogue.phrasings` prints the figures and, of the worked half only, each line
that is not understood. The held-out half is counted and never shown.
"""

import random
import sys
import tomllib
import zlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, fields
from datetime import datetime, timedelta
from enum import StrEnum
from functools import cache
from pathlib import Path

from replanner.dialogue.events import (
    Accept,
    Effect,
    EraseData,
    EveningCame,
    Event,
    Hush,
    LogLeg,
    PlanArrived,
    PlanFailed,
    Replan,
    RiderSaid,
    StrikeLog,
    TakeTour,
    Withdraw,
)
from replanner.dialogue.intent_types import (
    Doubtful,
    Intent,
    LogDay,
    NotUnderstood,
    Plain,
    SwapLegs,
    ToDay,
    UnknownDay,
    UnknownName,
    WeatherOn,
    Which,
    WhyLeg,
    topic_of,
)
from replanner.dialogue.intents import understand
from replanner.dialogue.road_intent import RoadWord
from replanner.dialogue.state import State
from replanner.dialogue.step import step
from replanner.errors import ReplannerError
from tests.dialogue.evening import SENT, at, fresh, plan
from tests.dialogue.slips import neighbours

TABLE = Path(__file__).parent / "phrasings.toml"
_LOST: dict[type, str] = {
    Which: "which",
    UnknownName: "unknown name",
    UnknownDay: "unknown day",
    NotUnderstood: "not understood",
    Doubtful: "doubtful",
}

Heard = dict[str, object]


class When(StrEnum):
    """The evening before, the plan just shown; or on the road by the accepted plan."""

    EVENING = "evening"
    ROAD = "road"


@dataclass(frozen=True, slots=True, kw_only=True)
class Phrasing:
    """One line a rider types, and every reading of it that is right."""

    text: str
    when: When
    means: tuple[Heard, ...]
    replies: tuple[int, ...]

    @property
    def held_out(self) -> bool:
        """Whether it is only counted, never looked at."""
        return zlib.crc32(self.text.encode()) % 2 == 1


def read_table(path: Path = TABLE) -> tuple[Phrasing, ...]:
    """Return every line of the table."""
    meanings = tomllib.loads(path.read_text(encoding="utf-8"))["meaning"]
    return tuple(
        Phrasing(
            text=text,
            when=When(meaning.get("when", "evening")),
            means=tuple(_wanted(one) for one in meaning["means"]),
            replies=tuple(meaning.get("reply", ())),
        )
        for meaning in meanings
        for text in meaning["said"]
    )


def _wanted(means: Heard) -> Heard:
    return {key: tuple(value) if isinstance(value, list) else value for key, value in means.items()}


def heard(intent: Intent) -> Heard:
    """Return an intent as the table writes it: its topic, and whatever else is said in it."""
    topic = topic_of(intent)
    if topic is None:
        return {"topic": _LOST[type(intent)]}
    return {"topic": str(topic)} | _told(intent)


def _told(intent: Intent) -> Heard:
    match intent:
        case Plain() | RoadWord():
            # Going on at once from a pump is tested in `test_tank_alone`.
            return _said(intent, leave=("topic", "said", "going_on"))
        case SwapLegs(first, second):
            return {"legs": (first, second)} | _said(intent, leave=("first", "second", "in_order"))
        case ToDay(leg):
            return _said(intent, leave=("leg",)) | ({"legs": (leg,)} if leg else {})
        case WhyLeg(leg) | WeatherOn(leg):
            return {"legs": (leg,)}
        case LogDay(ridden, missed):
            told = tuple(f"{leg}: {remark.lower()}" if remark else leg for leg, remark in missed)
            both = {"ridden": ridden, "missed": told}
            return {key: value for key, value in both.items() if value}
        case _:
            return _said(intent, leave=())


def _said(intent: Intent, leave: tuple[str, ...]) -> Heard:
    """Return the fields in which something is said."""
    found = {f.name: getattr(intent, f.name) for f in fields(intent) if f.name not in leave}
    return {key: value for key, value in found.items() if value not in (None, (), False, "")}


def _same(one: Heard, other: Heard) -> bool:
    return one.keys() == other.keys() and all(_equal(one[key], other[key]) for key in one)


def _equal(one: object, other: object) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) < 1e-6
    return one == other


def understood(phrasing: Phrasing, text: str) -> bool:
    """Tell whether a line is heard as it is meant, or asked about with the right one to choose."""
    state, sent = under_way(phrasing.when)
    hearing = state.hearing(sent)
    intent = understand(text, hearing)
    readings = [heard(intent)]
    if isinstance(intent, Which):
        readings += [heard(understand(option.says, hearing)) for option in intent.options]
    return any(_same(reading, means) for reading in readings for means in phrasing.means)


def changes(phrasing: Phrasing, text: str) -> bool:
    """Tell whether a line, by itself and without a yes asked first, changes what is in force."""
    before, sent = under_way(phrasing.when)
    after, effects = happen(before, RiderSaid(text=text, sent=sent))
    acted = (Accept, Withdraw, LogLeg, StrikeLog, Hush, TakeTour, EraseData)
    return (
        (before.demands, before.accepted, before.closed_down, before.logged)
        != (after.demands, after.accepted, after.closed_down, after.logged)
    ) or any(isinstance(effect, acted) for effect in effects)


@cache
def under_way(when: When) -> tuple[State, datetime]:
    """Return a conversation in which there is a plan to change, and something to undo."""
    state, _ = happen(fresh(), EveningCame(day=fresh().day, now=SENT))
    for line in ("leave at 8:00", "ok") if when is When.ROAD else ("leave at 8:00",):
        state, _ = happen(state, RiderSaid(text=line, sent=SENT + timedelta(minutes=1)))
    return state, at("09:10") if when is When.ROAD else SENT + timedelta(minutes=5)


def happen(state: State, event: Event) -> tuple[State, tuple[Effect, ...]]:
    """Return what an event comes to, every plan asked for made by the stand-in planner."""
    state, effects = step(state, event)
    told = list(effects)
    for effect in effects:
        if isinstance(effect, Replan):
            state, more = happen(state, _answer(effect))
            told += more
    return state, tuple(told)


def _answer(request: Replan) -> PlanArrived | PlanFailed:
    try:
        return PlanArrived(briefing=plan(request), request=request)
    except ReplannerError as error:
        return PlanFailed(message=str(error), request=request)


# --- typing errors --------------------------------------------------------------------------------
def _dropped(text: str, place: int, _: random.Random) -> str:
    return text[:place] + text[place + 1 :]


def _doubled(text: str, place: int, _: random.Random) -> str:
    return text[: place + 1] + text[place:]


def _swapped(text: str, place: int, _: random.Random) -> str:
    return text[:place] + text[place : place + 2][::-1] + text[place + 2 :]


def _beside(text: str, place: int, chance: random.Random) -> str:
    return text[:place] + chance.choice(neighbours(text[place].lower())) + text[place + 1 :]


SLIPS: dict[str, Callable[[str, int, random.Random], str]] = {
    "dropped": _dropped,
    "doubled": _doubled,
    "swapped": _swapped,
    "beside": _beside,
}
STYLES = ("no space", "capitals", "no marks", "lower case")


def mistyped(text: str) -> Iterator[tuple[str, str]]:
    """Yield the kind of each typing error and the line with it; always the same for one line."""
    chance = random.Random(zlib.crc32(text.encode()))
    letters = [place for place, sign in enumerate(text) if sign.isascii() and sign.isalpha()]
    pairs = [place for place in letters if text[place + 1 : place + 2].isalpha()]
    spaces = [place for place, sign in enumerate(text) if sign == " "]
    for kind, slip in SLIPS.items():
        places = pairs if kind == "swapped" else letters
        if places:
            yield kind, slip(text, chance.choice(places), chance)
    if spaces:
        yield "no space", _dropped(text, chance.choice(spaces), chance)
    yield "capitals", text.upper()
    yield "no marks", "".join(sign for sign in text if sign.isalnum() or sign in " :.@+")
    yield "lower case", text.lower()


# --- figures --------------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """How many lines were tried, understood, and misunderstood into a change."""

    tried: int
    understood: int
    wrong: tuple[str, ...]

    @property
    def share(self) -> float:
        """Share understood, 0 to 1."""
        return self.understood / self.tried

    def __str__(self) -> str:
        """Return the figures as a line."""
        return (
            f"{self.understood} of {self.tried} understood ({self.share:.1%}), "
            f"{len(self.wrong)} misunderstood into a change"
        )


def measure(lines: Iterable[tuple[Phrasing, str]]) -> Figures:
    """Count what comes of lines."""
    lines = tuple(lines)
    right = [understood(phrasing, text) for phrasing, text in lines]
    missed = [line for line, good in zip(lines, right, strict=True) if not good]
    return Figures(
        tried=len(lines),
        understood=sum(right),
        wrong=tuple(text for phrasing, text in missed if changes(phrasing, text)),
    )


def half(table: Sequence[Phrasing], *, held_out: bool) -> list[tuple[Phrasing, str]]:
    """Return the lines of one half, as they are typed."""
    return [(one, one.text) for one in table if one.held_out is held_out]


def slipped(table: Sequence[Phrasing], kinds: Sequence[str]) -> list[tuple[Phrasing, str]]:
    """Return the lines with typing errors of these kinds."""
    return [(one, text) for one in table for kind, text in mistyped(one.text) if kind in kinds]


def report() -> Iterator[str]:
    """Yield what is not understood of the worked half, and the figures."""
    table = read_table()
    worked, held_out = half(table, held_out=False), half(table, held_out=True)
    for phrasing, text in worked:
        state, sent = under_way(phrasing.when)
        if not understood(phrasing, text):
            mark = "CHANGES" if changes(phrasing, text) else ""
            found = heard(understand(text, state.hearing(sent)))
            yield f"{text!r:50} {found} {mark}\n{'':50} {phrasing.means[0]}"
    yield f"worked       {measure(worked)}"
    yield f"held out     {measure(held_out)}"
    for kind in (*SLIPS, *STYLES):
        for name, out in (("worked", False), ("held out", True)):
            tried = slipped([one for one in table if one.held_out is out], [kind])
            yield f"{kind:12} {name:8} {measure(tried)}"


if __name__ == "__main__":
    sys.stdout.writelines(f"{line}\n" for line in report())
