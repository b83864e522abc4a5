"""Who rides along and who decides: plain data of groups, their members and invitations.

A group rides one tour. Nobody's name is kept: a member is a chat and what he has set.
"""

from dataclasses import dataclass
from datetime import datetime, time
from enum import StrEnum

GroupId = int
MemberId = int
ChatId = int


class Role(StrEnum):
    """Everyone sees the plan; only a leader changes the group's plan."""

    LEADER = "leader"
    RIDER = "rider"


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Riders of one tour.

    Parameters
    ----------
    tour_text : str
        The tour file as it was given, checked.
    revision : int
        Counts the tour files of the group, from 1.
    """

    id: GroupId
    tour_text: str
    revision: int

    @property
    def tour_key(self) -> str:
        """What tells its plans apart in the store."""
        return f"group {self.id}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One chat of a group.

    Parameters
    ----------
    zone : str
        IANA name: in this zone the hours below are told.
    evening_at : datetime.time
        When the plan of the next day comes.
    quiet_from, quiet_to : datetime.time
        Nothing unasked in these hours but what is no-go.
    hushed_until : datetime or None
        The rider wants quiet until then.
    reachable : bool
        False: the chat refuses messages.
    """

    id: MemberId
    group: GroupId
    chat: ChatId
    role: Role
    zone: str
    evening_at: time
    quiet_from: time
    quiet_to: time
    hushed_until: datetime | None = None
    reachable: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Invitation:
    """A code the operator gave away: good for one chat, until it expires."""

    group: GroupId
    role: Role
    expires: datetime
