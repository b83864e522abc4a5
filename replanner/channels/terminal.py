"""A conversation on text streams: typed, piped, or with no input at all.

The adapter owns no decision. It hands each line to `step`, does what `step` asks of it through
what it was given, and says what is to be said.
"""

import unicodedata
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import TextIO

from replanner.advice.briefing import Briefing
from replanner.dialogue.events import (
    Accept,
    Effect,
    EveningCame,
    Event,
    PlanArrived,
    PlanFailed,
    Remember,
    Replan,
    RiderSaid,
    Say,
    Withdraw,
)
from replanner.dialogue.state import State
from replanner.dialogue.step import step
from replanner.errors import ReplannerError
from replanner.ports import PlanStore

LONGEST_LINE = 500
_READ_AT_MOST = 8 * LONGEST_LINE
_PROMPT = "> "


@dataclass(frozen=True, slots=True, kw_only=True)
class Hands:
    """What the conversation acts through.

    Parameters
    ----------
    replan : callable
        Makes the plan asked for; raises ReplannerError with the line for the rider.
    store : PlanStore
    say : callable
        Shows a text to the rider.
    now : callable
        The present instant, UTC-aware.
    """

    replan: Callable[[Replan], Briefing]
    store: PlanStore
    say: Callable[[str], None]
    now: Callable[[], datetime]


def converse(lines: Iterable[str], state: State, hands: Hands) -> State:
    """Plan the day, tell it, and answer line after line until they end or the rider leaves.

    Parameters
    ----------
    lines : iterable of str
        What the rider types; Ctrl-C while waiting for one ends the conversation.
    state : State
        As `begin` gives it.
    hands : Hands

    Returns
    -------
    State
        As it stood at the end.
    """
    try:
        state = happen(state, EveningCame(day=state.day, now=hands.now()), hands)
        for line in lines:
            if refusal := _refused(line):
                hands.say(refusal)
            elif line.strip():
                state = happen(state, RiderSaid(text=line.strip(), sent=hands.now()), hands)
            if state.over:
                break
    except KeyboardInterrupt:
        hands.say("")
    return state


def happen(state: State, event: Event, hands: Hands) -> State:
    """Let one event happen, with all that follows from it.

    If an ok cannot be stored, the rider is told and the conversation stands as before. If what
    is in force cannot be kept for the next run, the rider is told and the conversation goes on.
    """
    after, effects = step(state, event)
    for effect in effects:
        try:
            following = _do(effect, after, hands)
        except ReplannerError as error:
            hands.say(str(error))
            if not isinstance(effect, Remember):
                return state
            continue
        if following is not None:
            after = happen(after, following, hands)
    return after


def _do(effect: Effect, state: State, hands: Hands) -> Event | None:
    """Do one effect; returns the event that answers it."""
    match effect:
        case Say(text=text):
            hands.say(text)
        case Replan():
            return _plan(effect, hands)
        case Accept(briefing=briefing, demands=demands):
            hands.store.keep_plan(state.tour_key, briefing, accepted=True, demands=demands)
        case Withdraw(day=day):
            hands.store.withdraw(state.tour_key, day)
        case Remember(day=day, memory=memory):
            hands.store.remember(state.tour_key, day, memory)
    return None


def _plan(request: Replan, hands: Hands) -> Event:
    try:
        return PlanArrived(briefing=hands.replan(request), request=request)
    except ReplannerError as error:
        return PlanFailed(message=str(error), request=request)


def _refused(line: str) -> str:
    """Return why a line is not taken, empty if it is."""
    text = line.strip()
    if len(text) > LONGEST_LINE:
        return f"That line is too long, {LONGEST_LINE} characters are the most. Say it shorter."
    if "\ufffd" in text or any(unicodedata.category(sign) in ("Cc", "Cs") for sign in text):
        return "That line holds signs that are no text. Type it again in plain words."
    return ""


def read_lines(stream: TextIO | None, out: TextIO) -> Iterator[str]:
    """Yield the lines of a stream, with a prompt where somebody types.

    Bytes that are no UTF-8 come as U+FFFD; of an endless line only the beginning comes.
    """
    if stream is None or stream.closed:
        return
    typed = stream.isatty()
    while True:
        if typed:
            out.write(_PROMPT)
            out.flush()
        line = _one_line(stream)
        if not line:
            break
        yield line
    if typed:
        out.write("\n")


def _one_line(stream: TextIO) -> str:
    """Read one line; of one that is too long only so much that it is seen to be."""
    source = getattr(stream, "buffer", stream)
    line = piece = source.readline(_READ_AT_MOST)
    while len(piece) == _READ_AT_MOST and not _ended(piece):
        piece = source.readline(_READ_AT_MOST)
    return line.decode("utf-8", errors="replace") if isinstance(line, bytes) else str(line)


def _ended(piece: str | bytes) -> bool:
    return piece.endswith(b"\n") if isinstance(piece, bytes) else piece.endswith("\n")
