"""Letting those in who were invited, and noticing when a chat takes no messages any more.

A code has 96 bits (see `store.people_rows`): at a thousand tries a second, and as many codes out,
one is found in some 10^18 years. A chat that tries again and again is not looked at all the same.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, time

from replanner.advice.words import words_for
from replanner.people import ChatId, Group, Member, Role
from replanner.ports import Work
from replanner.post import DueKind, Letter, Words
from replanner.service.dealing import Ridden, Store
from replanner.service.pressure import Pressure

# What a code looks like; anything else is none, and no try.
_CODE = re.compile(r"[A-Za-z0-9_-]{16,64}")
_BEGIN = "/start"  # what the service's own button says; a link to the bot puts the code after it


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """When a new member is spoken to, until he says otherwise."""

    evening_at: time
    quiet_from: time
    quiet_to: time


class Joining:
    """Lets chats in.

    Parameters
    ----------
    store : Store
    ridden : callable
        A group with its tour.
    hours : Hours
    """

    def __init__(self, store: Store, ridden: Callable[[Group], Ridden], hours: Hours) -> None:
        self._store, self._ridden, self._hours = store, ridden, hours
        self._tries = Pressure()

    def welcome(self, work: Work, chat: ChatId, said: str, now: datetime) -> bool:
        """Let a chat in that says an invitation's code; False: it said none that is good."""
        code = _code_in(said)
        if not code or not self._tries.guesses(chat, now):
            return False
        invitation = self._store.invitation(code)
        group = self._store.group(invitation.group) if invitation else None
        if group is None:
            return False
        ridden = self._ridden(group)
        defaults = (
            ridden.tour.zone.key,
            self._hours.evening_at,
            self._hours.quiet_from,
            self._hours.quiet_to,
        )
        member = work.join(code, chat, now, defaults)
        if member is None:
            return False
        work.set_due(DueKind.EVENING, member.id, now)  # the round works out the hour
        work.post((_welcome(member, ridden, now),))
        return True

    def is_in_already(self, said: str) -> str:
        """Return what to tell a member who says a code again; empty: he says none.

        A code that is still good stays so, for the chat it was meant for.
        """
        code = _code_in(said)
        begins = said.split()[:1] == [_BEGIN]
        if not begins and not (code and self._store.invitation(code)):
            return ""
        return words_for("en").say(
            "You are in already. For another tour say: erase my data, then the code again."
            if code
            else "You are in already. Say: plan, or commands."
        )

    def reachable(self, work: Work, member: Member, yes: bool, now: datetime) -> None:  # noqa: FBT001 - what is set
        """Note whether a chat takes messages."""
        work.change_member(replace(member, reachable=yes))
        work.set_due(DueKind.EVENING, member.id, now if yes else None)


def _code_in(said: str) -> str:
    """Return the last word of a message if it can be a code, else nothing."""
    last = said.split()[-1:]
    return last[0] if last and _CODE.fullmatch(last[0]) else ""


def _welcome(member: Member, ridden: Ridden, now: datetime) -> Letter:
    words = words_for("en")
    decides = (
        words.say("You decide for the group.")
        if member.role is Role.LEADER
        else words.say("The leader decides; ask me anything, and report what you meet.")
    )
    first = words.say(
        "Welcome. The plan of each day of {tour} comes the evening before at {time} ({zone}).",
        tour=ridden.tour.name,
        time=f"{member.evening_at:%H:%M}",
        zone=member.zone,
    )
    rest = words.say(
        "Say: plan, to have the next one now; commands, for what can be said; "
        "erase my data, to leave. Advice only: you decide, on what you see."
    )
    return Letter(
        key=f"welcome:{member.id}",
        chat=member.chat,
        body=Words(text=f"{first}\n{decides}\n{rest}"),
        not_before=now,
    )
