"""A rider who changes his mind: plan B, his own order, back. Tour and weather are INVENTED."""

from tests.stories.ridden import FRIDAY, ByBot, ByTerminal, Teller

Rider = ByBot | ByTerminal


def legs(rider: Rider) -> list[str]:
    """Tell the legs of the accepted plan."""
    accepted = rider.outcome().accepted[FRIDAY]
    return [] if accepted is None else [leg.id for leg in accepted.legs]


def second_thoughts(rider: Rider) -> None:
    rider.until("Thu 19:30")
    evening = rider.notes[0]
    rider.says("ok")
    suggested = legs(rider)

    shown = rider.says("plan b")
    assert "Only shown: ok takes it, no drops it." in shown
    assert legs(rider) == suggested
    assert rider.says("ok").startswith("Accepted.")
    second = legs(rider)
    assert second != suggested

    # A button of the evening's message is of another plan by now.
    stale = rider.presses("Plan B", evening)
    assert stale.startswith("That was an older plan.")
    assert legs(rider) == second

    # And back: one step at a time, told in words.
    assert rider.says("undo").startswith("Undo: ok to")
    assert legs(rider) == suggested
    kept = rider.says("keep my order")
    assert "Hask Saddle" in kept
    assert "no-go" in kept or "NO-GO" in kept  # what it means is said before it is taken
    assert legs(rider) == suggested


def the_own_order_after_all(rider: Rider) -> None:
    """Plan B is agreed on. It is not their own order either; that they take, and regret."""
    rider.until("Thu 19:30")
    evening = rider.notes[0]
    rider.says("ok")
    suggested = legs(rider)
    rider.says("plan b")
    shown = rider.last
    rider.presses("Take it", shown)
    second = legs(rider)
    assert second != suggested

    kept = rider.says("keep my order")
    assert kept.startswith("Your own order is kept.")
    assert kept.splitlines()[2].startswith("Worst, ")  # what it meets is told, once
    assert "The plan you accepted stands until you say ok" in kept
    assert legs(rider) == second
    assert rider.says("ok").startswith("Accepted.")
    assert legs(rider) == ["hask_saddle", "brindle_loop", "gannet_spur"]

    # Back to plan B, one step and another.
    assert rider.says("undo").startswith("Undo: ok to Fri 2 Apr: AS YOU ASKED.")
    assert rider.says("undo").startswith("Undo: Your own order is kept.")
    assert legs(rider) == second
    # Buttons of what was shown before change nothing any more.
    for label, note in (("Take it", shown), ("My order", evening)):
        assert rider.presses(label, note).startswith("That was an older plan.")
        assert legs(rider) == second


def test_the_own_order_after_plan_b_and_back(teller: Teller) -> None:
    rider = teller.both_ways(the_own_order_after_all)
    assert not rider.outcome().memories[FRIDAY].demands.own_order


def test_second_thoughts_come_to_the_same_both_ways(teller: Teller) -> None:
    rider = teller.both_ways(second_thoughts)
    teller.killed_all_the_time(second_thoughts, rider)
