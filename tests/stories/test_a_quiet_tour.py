"""The whole tour ridden by its plans under the sky they were made for: nothing is said unasked."""

from datetime import timedelta

from tests.stories.ridden import TOUR, ByBot, ByTerminal, Teller, at

Rider = ByBot | ByTerminal
DAYS = (("Wed", "Thu"), ("Thu", "Fri"), ("Fri", "Sat"), ("Sat", "Sun"), ("Sun", "Mon"))


def ridden_by_the_plans(rider: Rider) -> None:
    """Each evening ok, each day no word until they are in; the log is one word a day."""
    for evening, day in DAYS:
        rider.until(f"{evening} 19:30")
        assert rider.says("ok").startswith("Accepted.")
        date = at(f"{day} 18:00").astimezone(TOUR.zone).date()
        plan = rider.store.accepted_plan(rider.tour_key, date)
        assert plan is not None
        assert plan.arrival is not None
        assert rider.passes(plan.arrival - timedelta(minutes=1)) == ""
        assert rider.says("home safe").startswith("Welcome in. The day is closed.")
        assert rider.says("yes").startswith("Ridden: ")
        assert {leg.id for leg in plan.legs} <= {
            one.leg for one in rider.store.logged(rider.tour_key)
        }


def test_a_tour_under_the_sky_it_was_planned_for_hears_nothing_unasked(teller: Teller) -> None:
    rider = teller.both_ways(ridden_by_the_plans, begins="Wed 18:50")
    # It was looked at: each morning, and on the road before what lies open or is no plain go.
    kinds = [hour.kind.name for hour in rider.diary]
    assert kinds.count("MORNING") == len(DAYS)
    assert kinds.count("ROAD_CHECK") >= 2 * len(DAYS)
