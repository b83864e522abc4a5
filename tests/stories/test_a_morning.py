"""Mornings and the road ahead: silent while the plan holds, one alert where it does not.

Tour and weather are INVENTED. By the plan of Friday: leave 09:40 for the causeway, the saddle at
12:20, once it has dried.
"""

from tests.stories.ridden import FRIDAY, ByBot, ByTerminal, Teller
from tests.stories.skies import gale, rain_on_the_passes

Rider = ByBot | ByTerminal


def a_fair_morning(rider: Rider) -> None:
    rider.until("Thu 19:30")
    rider.says("ok")
    assert rider.until("Fri 15:30") == ""  # the morning was looked at, and the road ahead


def test_nothing_is_said_while_the_plan_holds(teller: Teller) -> None:
    rider = teller.both_ways(a_fair_morning)
    looked = [hour.kind for hour in rider.diary]
    assert len(looked) >= 3  # the evening, the morning, the road at least once
    teller.killed_all_the_time(a_fair_morning, rider)


def rain_in_the_night(rider: Rider) -> None:
    """By breakfast it rains on the saddle, and will until the afternoon."""
    rider.until("Thu 19:30")
    rider.says("ok")
    rider.until("Fri 08:00")
    rider.sky.turns = (rain_on_the_passes("Fri 06:00", "Fri 16:00"),)
    told = rider.until("Fri 09:30")
    assert told.startswith("08:55 CHANGE: without Hask Saddle")
    assert "Hask valley road at 13:00 is new" in told
    assert "Dropped: Hask Saddle" in told
    assert "In by" in told
    assert told.endswith("ok takes it; till then I go by the plan you accepted.")
    # It goes on raining: that is known by now.
    assert rider.until("Fri 15:30") == ""


def test_a_wet_pass_is_told_in_the_morning_and_once(teller: Teller) -> None:
    rider = teller.both_ways(rain_in_the_night)
    planned = rider.outcome().memories[FRIDAY].alerted
    assert any(leg == "hask_saddle" for leg, _ in planned)


def they_take_it(rider: Rider) -> None:
    """An ok to the change of the morning: from then on they are reckoned to be where it says."""
    rider.until("Thu 19:30")
    rider.says("ok")
    rider.until("Fri 08:00")
    rider.sky.turns = (rain_on_the_passes("Fri 06:00", "Fri 16:00"),)
    rider.until("Fri 09:00")
    assert rider.presses("Take it", rider.last).startswith("Accepted.")
    accepted = rider.outcome().accepted[FRIDAY]
    assert accepted is not None
    legs = [leg.id for leg in accepted.legs]
    assert legs[:2] == ["salt_causeway", "hask_valley_road"]
    assert "hask_saddle" not in legs
    assert rider.until("Fri 13:20") == ""  # looked at again before leaving, and on the road
    spare = rider.says("how long have i got")
    assert "Hask valley road" in spare
    assert "Hask Saddle" not in spare


def test_an_ok_to_the_change_makes_it_the_plan(teller: Teller) -> None:
    teller.both_ways(they_take_it)


def worse_than_told(rider: Rider) -> None:
    """The rain was told of at breakfast. Then a gale: another cause, another word."""
    rider.until("Thu 19:30")
    rider.says("ok")
    rider.until("Fri 08:00")
    wet = rain_on_the_passes("Fri 06:00", "Fri 16:00")
    rider.sky.turns = (wet,)
    assert "without Hask Saddle" in rider.until("Fri 09:30")
    rider.sky.turns = (wet, gale("Fri 12:30"))
    told = rider.until("Fri 15:30")
    assert told.startswith("12:05 CHANGE: the plan does not hold any more.")
    assert "No plan holds from here" in told
    assert "Way home" not in told  # they fill up at their base
    assert told.count("CHANGE") == 1


def test_another_cause_is_alerted_to_again(teller: Teller) -> None:
    rider = teller.both_ways(worse_than_told)
    alerted = rider.outcome().memories[FRIDAY].alerted
    assert {("hask_saddle", "left out"), ("", "no plan")} <= alerted


def rain_on_the_way(rider: Rider) -> None:
    """They are on the causeway when a shower is forecast for the saddle."""
    rider.until("Thu 19:30")
    rider.says("ok")
    assert rider.until("Fri 10:30") == ""
    rider.sky.turns = (rain_on_the_passes("Fri 11:00", "Fri 16:00"),)
    told = rider.until("Fri 12:15")
    assert told.startswith("12:05 CHANGE: without Hask Saddle")  # before it begins, at 12:20
    assert "Decide at Haskfoot" in told
    assert "Hask valley road" in told
    assert rider.until("Fri 15:30") == ""


def test_a_leg_ahead_is_alerted_to_before_it_begins_and_once(teller: Teller) -> None:
    teller.both_ways(rain_on_the_way)


def asked_on_the_road(rider: Rider) -> None:
    """They ride, and ask themselves whether it still holds: from where they are by then."""
    rider.until("Thu 19:30")
    rider.says("ok")
    rider.until("Fri 14:00")
    told = rider.says("does it still hold")
    assert told.startswith("By the plan you are on Hask Saddle.")
    assert "Nothing changed." in told
    assert "In by" in told
    assert "Leave" not in told  # they have left,
    assert "Salt Causeway" not in told  # and that is behind them
    rider.sky.silent = True
    assert "no answer" in rider.says("plan")
    rider.sky.silent = False
    rider.sky.turns = (gale("Fri 14:30"),)
    worse = rider.says("plan")
    assert "14:00 CHANGE: the plan does not hold any more." in worse
    assert "NO-GO gust" in worse
    assert "CHANGE" not in rider.until("Fri 15:30")  # they know


def test_who_asks_on_the_road_is_told_of_the_rest_of_the_day(teller: Teller) -> None:
    teller.both_ways(asked_on_the_road)


def no_day_to_ride(rider: Rider) -> None:
    rider.until("Thu 19:30")
    rider.says("ok")
    rider.until("Fri 08:00")
    rider.sky.turns = (gale("Fri 07:00"),)
    told = rider.until("Fri 09:30")
    assert "the plan does not hold any more" in told
    assert "stay until one holds" in told  # they are at their base: no way home is looked for
    # Other legs are looked at before they would begin; what was told of is not told again.
    later = rider.until("Fri 15:30")
    assert later.count("CHANGE") == 1
    assert "Hask Saddle" not in later


def test_a_gale_at_breakfast_leaves_them_at_their_base(teller: Teller) -> None:
    teller.both_ways(no_day_to_ride)


def nobody_could_look(rider: Rider) -> None:
    rider.until("Thu 19:30")
    rider.says("ok")
    rider.sky.silent = True
    told = rider.until("Fri 09:30")
    assert told.startswith("Not checked this morning")
    assert "believe what you see" in told


def test_a_morning_without_a_forecast_is_no_all_clear(teller: Teller) -> None:
    teller.both_ways(nobody_could_look)
