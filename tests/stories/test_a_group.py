"""A leader and a friend: who decides, what a closure does, quiet, and leaving.

Tour and weather are INVENTED. By the bot alone: at a terminal there is one rider.
"""

import json
import re
from datetime import timedelta

import sqlalchemy as sa

from replanner.people import Role
from replanner.store.tables import metadata
from replanner.trip.underway import ReportKind
from tests.stories.ridden import FRIDAY, LEADER, SATURDAY, ByBot, ByTerminal, Teller, at
from tests.stories.skies import gale, rain_on_the_passes

FRIEND = 102


def with_a_friend(bot: ByBot | ByTerminal) -> ByBot:
    assert isinstance(bot, ByBot)
    bot.joins(FRIEND, Role.RIDER)
    return bot


def a_closure_that_lasts(rider: ByBot | ByTerminal) -> None:
    bot = with_a_friend(rider)
    bot.until("Thu 19:31")
    assert any("SWAP. Salt Causeway first" in note for note in bot.chats[FRIEND])

    # Wishes are the leader's; a what-if is everybody's.
    known = len(bot.notes)
    assert bot.says("skip gannet", chat=FRIEND).startswith("Your leader decides that.")
    assert 'wishes: "skip gannet"' in bot.since(known)
    assert not bot.outcome().memories[FRIDAY].demands.left_out
    assert "Only tried" in bot.says("what if we skip gannet", chat=FRIEND)
    bot.says("no", chat=FRIEND)
    bot.says("ok")
    bot.until("Thu 19:40")
    assert any(note.text.startswith("Your leader accepted") for note in bot.chats[FRIEND])

    # On Friday the friend sees a sign. A caution is anybody's to add, and reaches the leader.
    bot.until("Fri 10:00")
    known = len(bot.notes)
    sign = bot.says("coast of lanterns closed until monday", chat=FRIEND)
    assert sign.startswith("Closed until Mon 5 Apr is over: Coast of Lanterns.")
    assert "stays closed until Mon 5 Apr is over" in bot.says("seen at a sign", chat=FRIEND)
    bot.until("Fri 10:05")
    assert "A rider of your group: Closed until Mon 5 Apr is over" in bot.since(known)

    # It is Saturday's road: the next evening's plan knows.
    saturday = bot.until("Fri 19:31")
    assert saturday.startswith("Sat 3 Apr")
    assert "Coast of Lanterns" not in saturday.partition("Cautions")[0].partition("Why")[0]

    # To take a caution away is the leader's alone, and asks for a second yes.
    assert bot.says("coast of lanterns is open again", chat=FRIEND).startswith("Your leader")
    asked = bot.says("coast of lanterns is open again")
    assert "closed was reported 10:00. Say yes" in asked
    (report,) = bot.outcome().memories[SATURDAY].demands.reports
    assert (report.leg, report.kind) == ("lantern_coast", ReportKind.CLOSED)
    assert report.until == at("Mon 23:59") + timedelta(minutes=1)
    assert "Coast of Lanterns" in bot.says("yes")
    assert not bot.outcome().memories[SATURDAY].demands.reports


def test_a_closure_reaches_the_group_and_the_next_day(teller: Teller) -> None:
    teller.by_bot(a_closure_that_lasts)


def a_closure_until_tonight(rider: ByBot | ByTerminal) -> None:
    """Of a road of Saturday's, which opens again before."""
    bot = with_a_friend(rider)
    bot.until("Thu 19:31")
    bot.says("ok")
    bot.until("Fri 10:00")
    told = bot.says("the coast of lanterns is closed until tonight", chat=FRIEND)
    assert told.startswith("Closed until tonight: Coast of Lanterns.")
    (report,) = bot.outcome().memories[SATURDAY].demands.reports
    assert report.until == at("Fri 23:59") + timedelta(minutes=1)
    saturday = bot.until("Fri 19:31")
    assert saturday.startswith("Sat 3 Apr")
    assert "Coast of Lanterns" in saturday


def test_a_closure_that_is_over_reaches_no_other_day(teller: Teller) -> None:
    bot = teller.by_bot(a_closure_until_tonight)
    saturday = bot.store.newest_plan(bot.tour_key, SATURDAY)
    assert saturday is not None
    assert "lantern_coast" in [leg.id for leg in saturday.legs]


def a_quiet_night(rider: ByBot | ByTerminal) -> None:
    bot = with_a_friend(rider)
    bot.until("Thu 19:31")
    bot.says("ok")
    bot.until("Thu 20:00")
    assert bot.says("mute until morning").startswith("Quiet until 06:00")

    # What a friend reports waits until then; what one asks for oneself is answered.
    known = len(bot.notes)
    bot.says("hask saddle is closed", chat=FRIEND)
    bot.until("Thu 22:30")
    assert bot.since(known) == ""
    assert "to spare" in bot.says("how long have i got")
    assert bot.says("help, crash", chat=FRIEND).startswith("Call the emergency number now")
    known = len(bot.notes)
    morning = bot.until("Fri 06:30")
    assert morning.count("A rider of your group: Noted as closed: Hask Saddle.") == 1
    assert "Closed: Hask Saddle" in morning


def test_quiet_holds_until_the_morning_but_for_what_is_asked(teller: Teller) -> None:
    bot = teller.by_bot(a_quiet_night)
    accepted = bot.outcome().accepted[FRIDAY]
    assert accepted is not None
    assert "hask_saddle" in [leg.id for leg in accepted.legs]  # who agreed to it decides anew


def a_quiet_day(rider: ByBot | ByTerminal) -> None:
    """The leader wants to hear nothing until the evening but what is no-go."""
    bot = with_a_friend(rider)
    bot.until("Thu 19:31")
    bot.says("ok")
    bot.until("Fri 08:00")
    assert bot.says("quiet").startswith("Quiet until 19:30, but for what is no-go.")

    # A wet pass with another road beside it can wait, and who has not asked for quiet hears it.
    wet = rain_on_the_passes("Fri 06:00", "Fri 16:00")
    bot.sky.turns = (wet,)
    assert bot.until("Fri 09:30") == ""
    assert "08:55 CHANGE: without Hask Saddle" in bot.chats[FRIEND][-1]
    # That no way is left cannot wait.
    bot.sky.turns = (wet, gale("Fri 12:30"))
    assert bot.until("Fri 15:30").startswith("12:05 CHANGE: the plan does not hold any more.")

    # What has waited is not told with the evening's plan, when its day is over.
    bot.sky.turns = ()
    evening = bot.until("Fri 19:31")
    assert evening.startswith("Sat 3 Apr")
    assert "CHANGE" not in evening


def test_no_way_left_breaks_the_quiet_and_old_news_does_not_outlive_its_day(
    teller: Teller,
) -> None:
    teller.by_bot(a_quiet_day)


def one_leaves(rider: ByBot | ByTerminal) -> None:
    bot = with_a_friend(rider)
    bot.until("Thu 19:31")
    bot.says("ok")
    bot.says("what if we skip gannet", chat=FRIEND)

    # All that is kept of him, as a file; nothing of the other rider is in it.
    name, _, text = bot.says("export my data", chat=FRIEND).partition("\n")
    assert name == "[kept-of-me.json]"
    kept = json.loads(text)
    assert [row["chat"] for row in kept["members"]] == [FRIEND]
    assert kept["letters"]
    assert not re.search(rf"(?<![\w.]){LEADER}(?![\w.])", text)  # a hash may hold its figures
    assert re.search(rf"(?<![\w.]){FRIEND}(?![\w.])", text)

    # Erased at a second yes; from then on he is a stranger, and his leader rides on.
    assert bot.says("erase my data", chat=FRIEND).startswith("Erase everything kept of you")
    assert bot.says("no", chat=FRIEND)
    assert bot.store.member_of(FRIEND) is not None
    bot.says("erase my data", chat=FRIEND)
    assert bot.says("yes", chat=FRIEND) == "Everything kept of you is erased. Ride well."
    assert bot.store.member_of(FRIEND) is None
    assert bot.says("why", chat=FRIEND) == "Not you."
    assert "No other order of the day is worth more" in bot.says("why")
    told = len(bot.chats[FRIEND])
    bot.until("Fri 19:31")
    assert len(bot.chats[FRIEND]) == told  # nothing is sent there any more
    assert bot.last.text.startswith("Sat 3 Apr")


def test_who_leaves_takes_his_data_and_hears_no_more(teller: Teller) -> None:
    teller.by_bot(one_leaves)


def both_leave(rider: ByBot | ByTerminal) -> None:
    bot = with_a_friend(rider)
    bot.until("Thu 19:31")
    assert {"members", "letters"} <= rows_with(bot, LEADER)

    # The leader leaves. Somebody decides, and is told that it is he.
    bot.says("erase my data")
    assert bot.says("yes").startswith("Everything kept of you is erased.")
    assert bot.says("plan") == "Not you."
    assert "You decide for the group now" in bot.chats[FRIEND][-1]
    assert bot.says("ok", chat=FRIEND).startswith("Accepted.")
    key = bot.tour_key
    assert bot.store.accepted_plan(key, FRIDAY) is not None
    assert not rows_with(bot, LEADER)

    # With the last one everything goes: tour, plans, wishes, log.
    bot.says("erase my data", chat=FRIEND)
    assert bot.says("yes", chat=FRIEND).startswith("Everything kept of you is erased.")
    assert bot.says("ok", chat=FRIEND) == "Not you."
    assert bot.store.accepted_plan(key, FRIDAY) is None
    assert bot.store.group(bot.group.id) is None


def rows_with(bot: ByBot, chat: int) -> set[str]:
    """Return the tables in which a chat's number still stands."""
    with bot.store._database.reading() as look:
        return {
            name
            for name, table in metadata.tables.items()
            for row in look.execute(sa.select(table))
            if chat in tuple(row) or any(f'"id": {chat}' in str(value) for value in row)
        }


def test_with_the_last_rider_everything_is_gone(teller: Teller) -> None:
    bot = teller.by_bot(both_leave)
    with bot.store._database.reading() as look:
        kept = {
            name: [tuple(row) for row in look.execute(sa.select(table))]
            for name, table in metadata.tables.items()
        }
    # What is left are the numbers of what arrived, lest it be taken for new.
    assert all(row[1] is None and row[2] is None for row in kept.pop("arrivals"))
    kept.pop("replanner_schema")
    assert not any(kept.values()), kept
