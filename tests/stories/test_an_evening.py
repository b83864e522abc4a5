"""An evening by the bot and at the terminal: plan, why, plan B, what if, ok, undo.

Tour and weather are the demo's, INVENTED: on the first day round Orrowick the saddle is wet in the
morning, and the causeway is open from 08:30 to 12:30 only.
"""

from tests.stories.ridden import FRIDAY, SATURDAY, ByBot, ByTerminal, Teller
from tests.stories.skies import gale

Rider = ByBot | ByTerminal


def an_evening(rider: Rider) -> None:
    """Thursday night at Orrowick."""
    # At half past seven the plan is there, the decision in its first line.
    plan = rider.until("Thu 19:30")
    assert plan.startswith("Fri 2 Apr: SWAP. Salt Causeway first, Hask Saddle at 12:20")
    assert "This is advice only. You decide" in plan  # whole, on the first plan
    evening = rider.notes[0]

    # Why not the saddle first, as I would? Because it is wet, steep and narrow at nine.
    why = rider.says("why")
    assert "08:30 is no-go" in why
    assert "at 09:00 wet, 17 % steep, narrow, Hask twin track" in why

    # What else could I do? It is only shown, and I need not want it.
    assert "ok takes it, no drops it" in rider.says("plan b")
    assert "the plan stands" in rider.says("no")

    # And if I leave at half past nine? Only the difference is told; then I take it.
    tried = rider.says("what if I leave at 9:30")
    assert "Leave 09:30, not 09:40" in tried
    what_if = rider.last
    assert [one.label for one in what_if.buttons] == ["Take it", "Drop it"]

    # In gloves I press twice. The second press says nothing new and changes nothing.
    assert rider.presses("Take it", what_if).startswith("Accepted.")
    assert rider.presses("Take it", what_if).startswith("Accepted already")

    # A press on the first message is a press on an older plan: the present one is shown.
    stale = rider.presses("My order", evening)
    assert stale.startswith("That was an older plan.")
    assert "Leave 09:30" in stale

    # Then I think better of it.
    assert rider.says("undo").startswith("Undo: ok to")
    assert rider.outcome().accepted[FRIDAY] is None
    assert "Leave 09:40" in rider.last.text
    assert rider.says("ok").startswith("Accepted.")


def test_an_evening_comes_to_the_same_by_the_bot_and_at_the_terminal(teller: Teller) -> None:
    rider = teller.both_ways(an_evening)
    accepted = rider.outcome().accepted[FRIDAY]
    assert accepted is not None
    assert [leg.id for leg in accepted.legs][:2] == ["salt_causeway", "hask_saddle"]
    assert rider.outcome().memories[FRIDAY].demands.departure is None


def a_day_after_tomorrow_in_a_gale(rider: Rider) -> None:
    """Tomorrow is fair; on Saturday it blows, and a leg of that day must be ridden."""
    rider.sky.turns = (gale("Sat 00:00"),)
    plan = rider.until("Thu 19:30")
    assert "Leave 09:40" in plan
    assert "Sat 3 Apr has no plan as the forecast stands: ask why" in plan
    why = rider.says("why")
    assert "No plan keeps riding Coast of Lanterns on Sat 3 Apr" in why
    assert rider.says("ok").startswith("Accepted.")


def test_a_later_day_without_a_plan_is_heard_of_tonight(teller: Teller) -> None:
    rider = teller.both_ways(a_day_after_tomorrow_in_a_gale)
    accepted = rider.outcome().accepted[FRIDAY]
    assert accepted is not None
    assert accepted.over_days is not None
    assert accepted.over_days.without_plan == (SATURDAY,)


def test_an_evening_with_the_power_going_all_the_time_comes_to_the_same(teller: Teller) -> None:
    teller.killed_all_the_time(an_evening, teller.by_bot(an_evening))
