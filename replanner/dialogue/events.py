"""What can happen in a conversation, and what the conversation may ask the shell to do.

`step(state, event) -> (state, effects)` is pure. The shell performs the effects in order; a
`Replan` is answered by feeding `PlanArrived` (or `PlanFailed`) back in.
"""

from dataclasses import dataclass, field
from datetime import date, datetime

from replanner.advice.briefing import Briefing
from replanner.trip.edits import Demands


@dataclass(frozen=True, slots=True, kw_only=True)
class EveningCame:
    """It is time to plan a day."""

    day: date
    now: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class RiderSaid:
    """A line of text, with the moment it was sent (not when it arrived)."""

    text: str
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


Event = EveningCame | RiderSaid | PlanArrived | PlanFailed


@dataclass(frozen=True, slots=True, kw_only=True)
class Say:
    """Tell the rider something (may hold several lines)."""

    text: str


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


Effect = Say | Replan | Accept | Withdraw | Remember
