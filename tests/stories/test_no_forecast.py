"""An evening on which the forecast service does not answer. Tour and weather are INVENTED.

By the bot alone: a terminal asks when its rider does, and tries nothing again by itself.
"""

from tests.stories.ridden import FRIDAY, ByBot, ByTerminal, Teller


def no_answer_until_eight(bot: ByBot | ByTerminal) -> None:
    bot.sky.silent = True
    told = bot.until("Thu 19:45")
    assert told.startswith("No plan for Fri 2 Apr yet.")
    assert "no answer" in told
    assert "that is not good weather" in told
    assert bot.outcome().accepted[FRIDAY] is None
    assert bot.store.newest_plan(bot.tour_key, FRIDAY) is None
    assert "No plan" not in bot.until("Thu 19:55")  # tried again, and said once
    assert bot.says("ok") != ""  # there is nothing to agree to
    assert bot.outcome().accepted[FRIDAY] is None

    bot.sky.silent = False
    plan = bot.until("Thu 20:30")
    assert plan.startswith("This comes")
    assert "min late" in plan
    assert "SWAP. Salt Causeway first" in plan
    assert bot.says("ok").startswith("Accepted.")


def test_an_evening_without_a_forecast_is_tried_again_by_itself(teller: Teller) -> None:
    bot = teller.by_bot(no_answer_until_eight)
    # and killed at each plan and after every word it comes to the same
    frail = teller.by_bot(no_answer_until_eight, frail=True)
    assert frail.outcome().accepted == bot.outcome().accepted
    assert frail.outcome().told == bot.outcome().told


def it_breaks_off(rider: ByBot | ByTerminal) -> None:
    """The plan is there; an hour later nothing can be had."""
    rider.until("Thu 19:30")
    rider.until("Thu 20:30")
    rider.sky.silent = True
    told = rider.says("plan")
    assert told.startswith("No new plan for Fri 2 Apr.")
    assert "that is not good weather" in told
    assert "no answer" in rider.says("does it still hold")
    # What was planned before is still there to be read and taken.
    assert "SWAP. Salt Causeway first" in rider.says("read it again")
    assert rider.says("ok").startswith("Accepted.")


def test_nothing_new_is_not_told_as_a_new_plan(teller: Teller) -> None:
    teller.both_ways(it_breaks_off)
