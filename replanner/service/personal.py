"""What comes of an event for the rider alone: quiet, his data; and for the group's tour file."""

import json
from dataclasses import replace
from datetime import datetime

from replanner.advice.words import words_for
from replanner.dialogue.events import EraseData, ExportData, Hush, TakeTour
from replanner.people import Member, Role
from replanner.ports import People, Work
from replanner.post import Letter, TextFile, Words
from replanner.service.dealing import Ridden, Told


def carry_out(work: Work, people: People, ridden: Ridden, told: Told, now: datetime) -> None:
    """Do what an event asks for the rider himself, within its transaction."""
    member = told.member
    for upshot in told.upshots:
        match upshot:
            case Hush(until=until):
                work.change_member(replace(member, hushed_until=until))
            case TakeTour(token=token) if member.role is Role.LEADER:
                text = work.aside(ridden.group.id, token)
                if text is not None:
                    work.change_tour(ridden.group.id, text)
            case ExportData():
                kept = json.dumps(people.export(member.id), ensure_ascii=False, indent=1)
                body = TextFile(name="kept-of-me.json", text=kept)
                work.post((_letter(told, "export", body, now),))
            case EraseData():
                others = [one for one in people.members(member.group) if one.id != member.id]
                work.erase(member.id)
                _hand_over(work, member, others, now)
                gone = words_for("en").say("Everything kept of you is erased. Ride well.")
                work.post((_letter(told, "erased", Words(text=gone), now),))
            case _:
                pass  # said to somebody, or of the tour


def _hand_over(work: Work, left: Member, others: list[Member], now: datetime) -> None:
    """Let the group not be without a leader: whoever has been with it longest leads then."""
    if left.role is not Role.LEADER or any(one.role is Role.LEADER for one in others):
        return
    heir = min(others, key=lambda one: (not one.reachable, one.id), default=None)
    if heir is None:
        return
    work.change_member(replace(heir, role=Role.LEADER))
    words = words_for("en")
    yours = words.say(
        "Your leader has left. You decide for the group now: you have been with it longest."
    )
    theirs = words.say("Your leader has left. Another rider of your group decides now.")
    work.post(
        [
            Letter(
                key=f"leads:{heir.id}:{one.id}",
                chat=one.chat,
                body=Words(text=yours if one.id == heir.id else theirs),
                not_before=now,
            )
            for one in others
            if one.reachable
        ]
    )


def _letter(told: Told, what: str, body: TextFile | Words, now: datetime) -> Letter:
    key = f"{what}:{told.member.id}:{now.isoformat()}"
    return Letter(key=key, chat=told.member.chat, body=body, not_before=now)
