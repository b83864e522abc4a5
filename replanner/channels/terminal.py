"""A conversation on text streams: typed, piped, or with no input at all.

The adapter owns no decision. It hands each line on, and says and writes what comes of it.
"""

import unicodedata
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Protocol, TextIO

from replanner.advice.briefing import Briefing
from replanner.dialogue.events import (
    Effect,
    EraseData,
    EveningCame,
    Event,
    ExportData,
    RiderSaid,
    Say,
    SendTrack,
    ShowPicture,
)
from replanner.errors import ReplannerError

LONGEST_LINE = 500
_READ_AT_MOST = 8 * LONGEST_LINE
FILES_TOLD = "Say picture or gpx, and the file is written."
"""What stands for the files that go with an evening by themselves where a chat can show them."""
_PROMPT = "> "


class Heard(Protocol):
    """What came of an event."""

    @property
    def effects(self) -> Sequence[Effect]:
        """What to do about it, in order."""
        ...

    @property
    def over(self) -> bool:
        """Whether the rider took leave."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Hands:
    """What the conversation acts through.

    Parameters
    ----------
    hear : callable
        Lets an event happen; all that comes of it is stored before it returns.
    say : callable
        Shows a text to the rider.
    picture, track : callable
        Writes the picture or the GPX file of a plan and returns the file's name; raises
        ReplannerError with the line for the rider.
    own_data : str
        Where all that is kept lies, told to who wants to export or to erase it.
    now : callable
        The present instant, UTC-aware.
    """

    hear: Callable[[Event], Heard]
    say: Callable[[str], None]
    picture: Callable[[Briefing], str]
    track: Callable[[Briefing], str]
    own_data: str
    now: Callable[[], datetime]


def converse(lines: Iterable[str], day: date, hands: Hands) -> None:
    """Plan the day, tell it, and answer line after line until they end or the rider leaves.

    Parameters
    ----------
    lines : iterable of str
        What the rider types; Ctrl-C while waiting for one ends the conversation.
    day : date
        The day to plan first.
    hands : Hands
    """
    try:
        over = happen(EveningCame(day=day, now=hands.now()), hands)
        for line in lines:
            if refusal := _refused(line):
                hands.say(refusal)
            elif line.strip():
                over = happen(RiderSaid(text=line.strip(), sent=hands.now()), hands)
            if over:
                break
    except KeyboardInterrupt:
        hands.say("")


def happen(event: Event, hands: Hands) -> bool:
    """Let one event happen and do what follows; returns whether the rider took leave."""
    heard = hands.hear(event)
    for effect in heard.effects:
        try:
            _do(effect, hands)
        except ReplannerError as error:
            hands.say(str(error))
    return heard.over


def _do(effect: Effect, hands: Hands) -> None:
    """Do one effect; what was to be stored is, and there is nobody else to be told."""
    match effect:
        case Say(text=text, to=to) if to.holds_asker:
            hands.say(text)
        case ShowPicture(unasked=True):
            hands.say(FILES_TOLD)
        case SendTrack(unasked=True):
            pass  # told in the same line
        case ShowPicture(briefing=briefing):
            hands.say(f"Written: {hands.picture(briefing)}")
        case SendTrack(briefing=briefing):
            hands.say(f"Written: {hands.track(briefing)}")
        case ExportData() | EraseData():
            hands.say(hands.own_data)
        case _:
            pass


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
