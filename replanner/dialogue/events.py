"""What can happen in a conversation, and what the conversation may ask the shell to do.

`step(state, event) -> (state, effects)` is pure. The shell performs the effects in order; a
`Replan` is answered by feeding `PlanArrived` (or `PlanFailed`) back in.
"""

from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from replanner.advice.briefing import Briefing
from replanner.trip.edits import Demands
from replanner.trip.model import LegId
from replanner.trip.progress import Progress
from replanner.trip.underway import Underway


@dataclass(frozen=True, slots=True, kw_only=True)
class EveningCame:
    """It is time to plan a day; `note` is said before the plan (that it is late, and why)."""

    day: date
    now: datetime
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MorningCame:
    """Shortly before leaving it is asked whether the plan still holds."""

    day: date
    now: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadCheckCame:
    """During the day it is asked whether the exposed legs ahead still hold."""

    day: date
    now: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class OverdueCame:
    """Nobody has said that the riders are in, and they should be."""

    day: date
    now: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class RiderSaid:
    """A line of text, with the moment it was sent: it counts from then.

    `arrived` is when it came; None: at once.
    """

    text: str
    sent: datetime
    arrived: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressed:
    """A button was pressed: its word, and what it belonged to when it was shown."""

    word: str
    serial: int
    sent: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class PositionCame:
    """A position was shared, found on the tour already: where the riders are by it.

    `live` ones come by themselves, one after another; `progress` is what they tell together.
    `sure` is False where it could be another leg as well.
    """

    underway: Underway
    live: bool
    sent: datetime
    progress: Progress | None = None
    sure: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class TourCame:
    """A tour file was sent: sound and kept aside under `token`, or with its mistakes."""

    name: str
    token: str
    days: tuple[date, ...]
    legs: int
    mistakes: tuple[str, ...]
    sent: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackCame:
    """A GPX file was sent: the legs it ran along, or why it cannot be read."""

    name: str
    legs: tuple[LegId, ...]
    distance_km: float
    refusal: str
    sent: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanShared:
    """Another rider's word has changed the group's plan; `cause` tells it in one line.

    After `useless_after`, where that is given, it is of no use to who has not read it.
    """

    briefing: Briefing
    demands: Demands
    cause: str
    sent: datetime
    useless_after: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class UnreadableCame:
    """A sticker, a photo, a voice note: nothing that can be read."""

    sent: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanArrived:
    """A plan asked for by `Replan` is here."""

    briefing: Briefing
    request: "Replan"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFailed:
    """No plan could be made; `message` is the one line for the rider."""

    message: str
    request: "Replan"


@dataclass(frozen=True, slots=True, kw_only=True)
class Memory:
    """What a conversation about one day must not forget between two runs."""

    demands: Demands = field(default_factory=Demands)
    own_caution_shown: bool = False  # the one caution of the own order is shown once
    cautions_shown: bool = False  # the standing cautions are shown whole on the first plan
    alerted: frozenset[tuple[LegId, str]] = frozenset()  # leg and cause told already, once each
    closed_down: bool = False  # the riders are in: the day is over
    progress: Progress | None = None  # what the live positions of the day tell so far
    logged: frozenset[LegId] = frozenset()  # legs of the day that were written down


Event = (
    EveningCame
    | MorningCame
    | RoadCheckCame
    | OverdueCame
    | RiderSaid
    | Pressed
    | PositionCame
    | TourCame
    | TrackCame
    | PlanShared
    | UnreadableCame
    | PlanArrived
    | PlanFailed
)


class Audience(StrEnum):
    """Who is told."""

    ASKER = "asker"  # who said or pressed it; of a clock's event: whose clock it is
    OTHERS = "others"  # the rest of the group
    LEADERS = "leaders"  # who leads, but for the asker
    EVERYONE = "everyone"

    @property
    def holds_asker(self) -> bool:
        """Whether who said it is told."""
        return self in (Audience.ASKER, Audience.EVERYONE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Button:
    """A word that can be pressed; `word` is what the rider could have typed (at most 40 bytes)."""

    label: str
    word: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Say:
    """Tell something (may hold several lines).

    Parameters
    ----------
    buttons : tuple of Button
        Shown below where the channel has buttons; words do the same.
    serial : int
        What the buttons belong to: the number of the plan or question shown last.
    slot : str
        What is said in one slot on one day takes the place of what was said in it before.
    urgent : bool
        No-go ahead, or a call for help: told in quiet hours too.
    useless_after : datetime or None
        Of no use to who has not read it by then; None: as long as anything said of the day is.
    """

    text: str
    buttons: tuple[Button, ...] = ()
    serial: int = 0
    to: Audience = Audience.ASKER
    slot: str = ""
    urgent: bool = False
    useless_after: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShowPicture:
    """Show the picture of a plan; `unasked`: it goes with an evening, after all that is said."""

    briefing: Briefing
    to: Audience = Audience.ASKER
    unasked: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SendTrack:
    """Send the GPX file of a plan; `unasked`: it goes with an evening, after all that is said."""

    briefing: Briefing
    to: Audience = Audience.ASKER
    unasked: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Replan:
    """Make a plan of the day under these demands.

    `trial` is a what-if: shown as a difference, stored only when the rider says ok.
    `wish` is True where the rider has asked for something: an older plan is no answer then.
    `why_asked` is the echo of what was understood, told in the first line of the answer.
    """

    day: date
    demands: Demands
    trial: bool = False
    wish: bool = False
    why_asked: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Accept:
    """The rider accepted the plan shown last: store it."""

    briefing: Briefing
    demands: Demands


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdraw:
    """The rider took an ok back: no plan of that day is accepted any more."""

    day: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Remember:
    """What is in force between runs has changed: store it, also without an ok."""

    day: date
    memory: Memory


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """Show the rest of the group a plan that is the group's now; see `PlanShared`."""

    briefing: Briefing
    demands: Demands
    cause: str
    useless_after: datetime | None = None


class Outcome(StrEnum):
    """What became of a leg."""

    RIDDEN = "ridden"
    MISSED = "missed"


@dataclass(frozen=True, slots=True, kw_only=True)
class LogLeg:
    """Write down what became of a leg on a day; `remark` in the rider's words ("fog")."""

    leg: LegId
    day: date
    outcome: Outcome
    remark: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StrikeLog:
    """Take back what was written down of legs on a day."""

    legs: frozenset[LegId]
    day: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Hush:
    """Say nothing unasked until then; None: speak again."""

    until: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeTour:
    """Let the tour file kept aside under `token` be the group's tour."""

    token: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportData:
    """Send everything kept of the rider."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EraseData:
    """Erase everything kept of the rider."""


Effect = (
    Say
    | ShowPicture
    | SendTrack
    | Share
    | Replan
    | Accept
    | Withdraw
    | Remember
    | LogLeg
    | StrikeLog
    | Hush
    | TakeTour
    | ExportData
    | EraseData
)
