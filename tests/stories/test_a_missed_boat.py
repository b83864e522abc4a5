"""Saturday: the boat is gone, and they stay another night. Tour and weather are INVENTED."""

from tests.stories.ridden import SATURDAY, SUNDAY, ByBot, ByTerminal, Teller

Rider = ByBot | ByTerminal


def the_boat_is_gone(rider: Rider) -> None:
    """By the plan: the narrows at 09:45, Wrack Bay, in before the gale of the afternoon."""
    assert "ferry: boat 09:45" in rider.until("Fri 19:30")
    rider.says("ok")

    # At eleven they stand at the quay. Later boats lead into the gale: no plan, and said so.
    rider.until("Sat 11:00")
    missed = rider.says("missed the boat")
    assert missed.startswith("Missed the 09:45 of Kelp Narrows ferry. You are at West quay.")
    assert "No plan holds from here" in missed
    assert "mind gust 72 km/h" in missed  # the way round is told as what it is

    # Back to the bed of last night, then. Who books it is told, and where tomorrow begins.
    stay = rider.says("stay another night")
    assert stay.startswith("Night of Sat in Orrowick, not in Tolfen.")
    assert "Book it yourself" in stay
    # The gale is on the road back by now: no plan, but the way in all the same.
    assert "No plan holds from here." in stay
    assert "Way home: plain road, in by 12:26, mind gust 72 km/h" in stay
    rider.until("Sat 12:40")
    safe = rider.says("home safe")
    assert safe.startswith("Welcome in. The day is closed.\nAll ridden: 1 Coast of Lanterns?")
    assert rider.says("yes").startswith("Ridden: Coast of Lanterns.")

    # In the evening Sunday begins where they are: the coast again, the boat, what was not ridden.
    sunday = rider.until("Sat 19:30")
    assert sunday.startswith("Sun 4 Apr")
    assert "Kelp Narrows ferry: boat" in sunday
    assert "Coast of Lanterns" in sunday
    # The log is of the day that was ridden, also when the next one was spoken of.
    assert rider.says("log").startswith("Nothing is left to log.")


def test_a_missed_boat_and_another_night_come_to_the_same_both_ways(teller: Teller) -> None:
    rider = teller.both_ways(the_boat_is_gone, begins="Fri 18:50")
    nights = rider.outcome().memories[SATURDAY].demands.nights
    assert (SATURDAY, "orrowick") in nights
    sunday = rider.store.newest_plan(rider.tour_key, SUNDAY)
    assert sunday is not None
    assert sunday.base_from == "Orrowick"
    assert [leg.id for leg in sunday.legs][:2] == ["lantern_coast", "narrows_ferry"]
    assert [(one.leg, one.day) for one in rider.outcome().log] == [("lantern_coast", SATURDAY)]
    assert rider.outcome().memories[SATURDAY].closed_down
    # Nobody who has said that he is in is asked after.
    assert not any("You should be in" in note for note in rider.notes)
