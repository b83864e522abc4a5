"""The forecast service does not answer, or not to all that was asked. All is INVENTED.

What is tried again by itself is the bot's alone: a terminal asks when its rider does.
"""

from replanner.hazards.model import CAUTION
from tests.stories.ridden import FRIDAY, ByBot, ByTerminal, Teller
from tests.stories.skies import no_rain_nor_gusts_known


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


def an_old_plan_for_the_evening(bot: ByBot | ByTerminal) -> None:
    """At five they have asked for Friday's plan. At half past seven no other can be had."""
    bot.says("plan friday")
    bot.sky.silent = True
    old = bot.until("Thu 19:45")
    assert old.startswith("OLD PLAN of Thu 17:00, not checked: Fri 2 Apr")
    assert "No new plan: Invented weather: no answer" in old
    taken = bot.says("ok")
    assert taken.startswith("Accepted.")
    assert "Mind: this is the last good plan, made 17:00" in taken
    assert bot.outcome().accepted[FRIDAY] is not None

    bot.sky.silent = False
    new = bot.until("Thu 21:00")
    assert new.startswith("This comes")
    assert new.count("Fri 2 Apr: SWAP. Salt Causeway first") == 1
    assert "OLD PLAN" not in new
    assert new.endswith("The same as you accepted.")


def test_the_last_good_plan_comes_marked_and_the_next_replaces_it(teller: Teller) -> None:
    bot = teller.by_bot(an_old_plan_for_the_evening, begins="Thu 17:00")
    newest = bot.store.newest_plan(bot.tour_key, FRIDAY)
    assert newest is not None
    assert not newest.plan_stale


def gaps_in_the_answer(rider: ByBot | ByTerminal) -> None:
    """All that comes of Friday comes without rain and gusts."""
    rider.sky.turns = (no_rain_nor_gusts_known("Fri 00:00"),)
    plan = rider.until("Thu 19:30")
    assert "No data for gust" in plan
    assert "treat as caution" in plan
    assert "ride as if each were there" in " ".join(plan.split())
    assert "Very likely" not in plan
    assert rider.says("how sure") == "How sure this is was not worked out."
    assert "No data for gust" in rider.says("why")
    rider.says("ok")


def test_what_is_not_known_is_a_caution_on_every_leg(teller: Teller) -> None:
    rider = teller.both_ways(gaps_in_the_answer)
    accepted = rider.outcome().accepted[FRIDAY]
    assert accepted is not None
    assert accepted.legs
    for leg in accepted.legs:
        assert leg.severity >= CAUTION, leg.id
        assert leg.hazard is not None
        assert leg.hazard.unknown
    assert accepted.odds is None
    assert "gust" in accepted.unknown


def gaps_in_the_morning(rider: ByBot | ByTerminal) -> None:
    """What was a plain go in the evening is not known to be one by breakfast."""
    rider.until("Thu 19:30")
    rider.says("ok")
    rider.until("Fri 08:00")
    rider.sky.turns = (no_rain_nor_gusts_known("Fri 00:00"),)
    told = rider.until("Fri 09:30")
    assert told.startswith("08:55 CHANGE: Quern Point loop caution")
    assert "no data for gust, was go" in told


def test_data_missing_in_the_morning_is_a_change_for_the_worse(teller: Teller) -> None:
    teller.both_ways(gaps_in_the_morning)
