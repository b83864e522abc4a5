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

    # Without the causeway one could sleep until noon.
    shown = rider.says("plan b")
    assert "Only shown: ok takes it, no drops it." in shown
    assert legs(rider) == suggested
    assert rider.says("ok").startswith("Accepted.")
    assert "salt_causeway" not in legs(rider)

    # A button of the evening's message is of another plan by now.
    stale = rider.presses("Plan B", evening)
    assert stale.startswith("That was an older plan.")
    assert "salt_causeway" not in legs(rider)

    # And back: one step at a time, told in words.
    assert rider.says("undo").startswith("Undo: ok to")
    assert legs(rider) == suggested
    kept = rider.says("keep my order")
    assert "Hask Saddle" in kept
    assert "no-go" in kept or "NO-GO" in kept  # what it means is said before it is taken
    assert legs(rider) == suggested


def test_second_thoughts_come_to_the_same_both_ways(teller: Teller) -> None:
    rider = teller.both_ways(second_thoughts)
    teller.killed_all_the_time(second_thoughts, rider)
