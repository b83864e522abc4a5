"""What goes out to a chat and what comes in from one, as kept until it is dealt with: plain data.

Out: a letter is stored together with the change it tells of; a sender claims it, sends it, marks
it. A letter whose sender vanished in between is sent once more, marked as sent again. In: what
arrived is stored before the chat service is told so, and dealt with after that.
"""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from replanner.dialogue.events import Button
from replanner.geodesy import Point
from replanner.people import ChatId, GroupId, MemberId

# What the keys of letters begin with that answer a rider: they do not wait behind an evening's
# plans for all others.
ANSWERS = "in:"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRef:
    """A stored plan: its tour's key, its day, its version."""

    tour_key: str
    day: date
    version: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """A text, with buttons below.

    Parameters
    ----------
    serial : int
        What the buttons belong to; a press tells it again.
    slot : str
        Letters of one slot and chat take each other's place: the one sent before is edited.
        Empty: a message of its own.
    silent : bool
        Without a sound.
    """

    text: str
    buttons: tuple[Button, ...] = ()
    serial: int = 0
    slot: str = ""
    silent: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanPicture:
    """The picture of a plan, drawn when it is sent; `unasked`: without a sound, after all words."""

    plan: PlanRef
    unasked: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanTrack:
    """The GPX file of a plan, written when it is sent; `unasked`: as `PlanPicture`'s."""

    plan: PlanRef
    unasked: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class TextFile:
    """A file of text."""

    name: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PressAnswered:
    """Tells the chat service that a press was taken; worthless after a short while."""

    press: str


Body = Words | PlanPicture | PlanTrack | TextFile | PressAnswered


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """One message to one chat.

    Parameters
    ----------
    key : str
        The same letter is kept only once, whoever posts it again.
    not_before : datetime
    useless_after : datetime or None
        Dropped when it could not be sent by then.
    """

    key: str
    chat: ChatId
    body: Body
    not_before: datetime
    useless_after: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Claimed:
    """A letter a sender has taken on.

    Parameters
    ----------
    again : bool
        It may have arrived already: say so.
    edits : int or None
        The message it takes the place of.
    tries : int
        How often it was taken on before.
    """

    row: int
    letter: Letter
    again: bool
    edits: int | None
    tries: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrived:
    """Something from a chat, as the service sent it. `number` is the service's own."""

    number: int
    chat: ChatId
    raw: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TextIn:
    """Words; `edited`: a message sent before, changed."""

    text: str
    edited: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PressIn:
    """A button pressed: its word and what it belonged to; `press` is the service's name of it."""

    word: str
    serial: int
    press: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PositionIn:
    """A position shared; `live` ones come again and again."""

    point: Point
    live: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FileIn:
    """A file sent, not fetched yet."""

    file: str
    name: str
    size: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherIn:
    """A sticker, a photo, a voice note."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockedIn:
    """The chat does not take messages any more, or takes them again."""

    blocked: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Incoming:
    """What arrived, read.

    Parameters
    ----------
    sent : datetime
        When it was sent, not when it arrived.
    private : bool
        From a chat with one rider; False: from a group chat, where nothing is said.
    """

    number: int
    chat: ChatId
    sent: datetime
    private: bool
    what: TextIn | PressIn | PositionIn | FileIn | OtherIn | BlockedIn


class DueKind(StrEnum):
    """What is to be done at an hour."""

    EVENING = "evening"  # owner: a member
    MORNING = "morning"  # owner: a group, as the rest
    ROAD_CHECK = "road check"
    OVERDUE = "overdue"
    HOUSEKEEPING = "housekeeping"  # owner: 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """Something to be done at an instant; `owner` is a member or a group."""

    kind: DueKind
    owner: MemberId | GroupId
    at: datetime
