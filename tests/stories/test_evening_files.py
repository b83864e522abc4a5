"""Picture and GPX go with an evening by themselves; asked of a what-if they show that one.

Tour and weather are INVENTED.
"""

from replanner.people import Role
from tests.stories.ridden import FRIDAY, LEADER, ByBot, ByTerminal, Teller

Rider = ByBot | ByTerminal
FRIEND = 102


def a_what_if_is_drawn(rider: Rider) -> None:
    rider.until("Thu 19:30")
    told = rider.store.newest_plan(rider.tour_key, FRIDAY)
    assert told is not None
    rider.says("what if we skip hask saddle")
    assert rider.says("picture") == f"[picture of {FRIDAY}]"
    assert rider.says("gpx") == f"[GPX of {FRIDAY}]"
    # Neither became the plan: only an ok makes it that.
    assert rider.store.newest_plan(rider.tour_key, FRIDAY) == told
    assert rider.store.last_plan(rider.tour_key, FRIDAY) == told
    rider.says("no")
    assert "Hask" in rider.says("read it again")


def test_a_what_if_that_was_drawn_is_nobodys_plan(teller: Teller) -> None:
    bot = teller.both_ways(a_what_if_is_drawn)
    # What was sent by itself, once, after the words.
    assert bot.files_of == {LEADER: [f"[picture of {FRIDAY}]", f"[GPX of {FRIDAY}]"]}


def test_everybody_of_a_group_gets_the_files_after_the_words(teller: Teller) -> None:
    def evening(bot: Rider) -> None:
        assert isinstance(bot, ByBot)
        bot.joins(FRIEND, Role.RIDER)
        bot.until("Thu 19:31")
        (asked,) = (note for note in bot.chats[FRIEND] if "In by" in note)
        bot.says("ok")
        bot.says("why", chat=FRIEND)
        assert "Leave" in asked

    bot = teller.by_bot(evening)
    both = [f"[picture of {FRIDAY}]", f"[GPX of {FRIDAY}]"]
    assert bot.files_of == {LEADER: both, FRIEND: both}


def test_the_file_drawn_is_the_what_ifs(teller: Teller) -> None:
    drawn = []

    def asks(bot: Rider) -> None:
        assert isinstance(bot, ByBot)
        bot.until("Thu 19:31")
        bot.says("what if we skip hask saddle")
        bot.says("picture")
        drawn.extend(bot.pictured)

    bot = teller.by_bot(asks)
    plans = [bot.store.plan(one.plan) for one in drawn]
    assert [plan is not None for plan in plans] == [True, True]
    first, second = ({leg.id for leg in plan.legs} for plan in plans if plan is not None)
    assert ("hask_saddle" in first, "hask_saddle" in second) == (True, False)
