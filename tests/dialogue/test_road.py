"""The trade's replies on the road, through `step` with the real planner on the demo tour.

The reactions are those of the trade's forty replies: common practice, no source. Tour and weather
are INVENTED; what has to come out is worked out by hand from the tour file and the plan shown.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pandas as pd
import pytest

from replanner.advice.briefing import Decision
from replanner.dialogue.events import (
    LogLeg,
    Outcome,
    PositionCame,
    Remember,
    Replan,
    Say,
    StrikeLog,
)
from replanner.trip.model import Rider, Tyres, Way
from replanner.trip.rest_of_day import back_over
from replanner.trip.underway import OnLeg, Report, ReportKind, Underway
from tests.dialogue.road_day import FRIDAY, SATURDAY, SUNDAY, TOUR, Ride, at
from tests.service.fair import MadeWeather


@pytest.fixture
def friday() -> Ride:
    """Fair: causeway 08:30, Quern 10:40, Hask 11:55 to 15:10, Brindle, Gannet; in by 18:30."""
    return Ride(FRIDAY)


def lines(told: str) -> list[str]:
    return told.splitlines()


def sound(ride: Ride, told: str) -> str:
    """Check what every answer on the road must keep, and give it back.

    Six lines (one more where a what-if offers its ok); about 90 words in 30 seconds is how the
    evening's message is read, so twenty seconds hold 60 and a long echo a few more.
    """
    assert len(lines(told)) <= 6 + ("Only tried" in told), told
    assert len(told.split()) <= 80, told
    shown = ride.state.trial or ride.state.shown
    assert shown is not None
    underway = shown.demands.underway
    if underway is not None:
        planned = {leg.id for leg in shown.briefing.legs}
        assert not planned & underway.ridden
        assert all(leg.start >= underway.ready for leg in shown.briefing.legs)
    return told


def ends_with_the_rest(told: str) -> bool:
    return "In by " in told and "to spare" in told and "Way home: " in lines(told)[-1]


def reports(ride: Ride) -> dict[tuple[str, ReportKind], Report]:
    return {(one.leg, one.kind): one for one in ride.state.demands.reports}


def test_late_shifts_everything_by_the_plan_in_force(friday: Ride) -> None:
    """40 min late at 10:30 they are where the plan has them at 09:50: halfway over the causeway."""
    assert friday.state.shown is not None
    spare = friday.state.shown.briefing.spare_minutes
    assert spare is not None
    assert spare >= 40.0
    told = sound(friday, friday.say(at(FRIDAY, 10, 30), "running 40 min late"))
    first = f"40 min late: {int(spare)} min were to spare. By the plan you are on Salt"
    assert lines(told)[0].startswith(first)
    assert ends_with_the_rest(told)
    underway = friday.state.demands.underway
    assert underway is not None
    assert underway.on_leg is not None
    # 50 of the 100 minutes of riding: from 09:20 to 09:50 they halt, halfway
    assert underway.on_leg.fraction == pytest.approx(50 / 100)
    assert underway.ready == at(FRIDAY, 10, 30)
    plan = friday.state.shown.briefing if friday.state.shown else None
    assert plan is not None
    hask = next(leg for leg in plan.legs if leg.id == "hask_saddle")
    assert hask.start >= at(FRIDAY, 11, 10)


def test_late_names_the_first_thing_that_breaks(friday: Ride) -> None:
    """By the plan they ride the spur until 18:30, in the light until civil dusk about 20:00."""
    told = friday.say(at(FRIDAY, 8, 20), "running 150 late")
    assert lines(told)[0].startswith("150 min late: breaks last light on Gannet Stack spur.")
    assert "salt_causeway" not in friday.planned or "In by" in told


def test_late_before_leaving_means_leaving_later(friday: Ride) -> None:
    friday.say(at(FRIDAY, 7), "running 40 late")
    underway = friday.state.demands.underway
    assert underway is not None
    assert (underway.place, underway.ready) == ("orrowick", at(FRIDAY, 9, 10))


def test_the_time_a_line_was_sent_counts_not_when_it_arrived(friday: Ride) -> None:
    """Sent at 16:00 on Brindle, arrived at 18:20 when the signal came back."""
    told = friday.say(at(FRIDAY, 16), "running 10 late", now=at(FRIDAY, 18, 20))
    underway = friday.state.demands.underway
    assert underway is not None
    assert underway.at == at(FRIDAY, 16)
    assert "Brindle loop" in lines(told)[0]


def test_a_closed_road_goes_to_its_stand_in_and_how_it_is_known_is_asked_once(friday: Ride) -> None:
    told = sound(friday, friday.say(at(FRIDAY, 9), "road closed at the brindle loop"))
    assert "Closed until tonight: Brindle loop. Seen at a sign, or told?" in lines(told)[0]
    assert "brindle_loop" not in friday.planned
    assert "brindle_low_road" in friday.planned
    assert reports(friday)["brindle_loop", ReportKind.CLOSED].until == at(SATURDAY, 0)
    assert ends_with_the_rest(told)
    again = friday.say(at(FRIDAY, 9, 5), "brindle loop is closed")
    assert "closed already" in again
    assert "Seen at a sign" not in again
    assert "stays closed" in friday.say(at(FRIDAY, 9, 6), "told")
    assert "brindle_loop" not in friday.planned


def test_how_a_closure_is_known_is_told_of_the_one_reported_last(friday: Ride) -> None:
    friday.say(at(FRIDAY, 9), "brindle loop closed until sunday")
    friday.say(at(FRIDAY, 9, 5), "quern is closed")
    told = lines(friday.say(at(FRIDAY, 9, 6), "seen at a sign"))[0]
    assert told.startswith("Seen: Quern Point loop stays closed until tonight.")
    assert "Brindle" not in told


def test_a_closed_road_opens_only_at_a_second_yes(friday: Ride) -> None:
    friday.say(at(FRIDAY, 9), "brindle loop is closed")
    told = friday.say(at(FRIDAY, 9, 10), "brindle loop is open")
    assert "Say yes" in told
    assert "brindle_loop" not in friday.planned
    friday.say(at(FRIDAY, 9, 11), "yes")
    assert "brindle_loop" in friday.planned
    assert not reports(friday)


def test_deep_gravel_is_kept_for_a_week_and_its_end_needs_a_second_yes(friday: Ride) -> None:
    told = sound(friday, friday.say(at(FRIDAY, 9), "deep gravel on the quern loop"))
    assert "Noted until Fri 9 Apr 08:00: gravel on Quern Point loop" in lines(told)[0]
    assert reports(friday)["quern_loop", ReportKind.GRAVEL].until == at(FRIDAY, 9) + timedelta(
        days=7
    )
    assert "Say yes" in friday.say(at(FRIDAY, 15), "gravel's been swept")
    assert reports(friday)
    friday.say(at(FRIDAY, 15), "yes")
    assert not reports(friday)


def test_gravel_is_not_offered_to_a_pillion_or_road_tyres() -> None:
    """Brindle loop is no must: its low road stands in, or it is left out."""
    for rider in (Rider(id="two-up", pillion=True), Rider(id="road", tyres=Tyres.ROAD)):
        tour = replace(TOUR, riders=(*TOUR.riders, rider))
        ride = Ride(FRIDAY, tour=tour)
        ride.say(at(FRIDAY, 9), "gravel on quern loop")
        assert reports(ride)["quern_loop", ReportKind.GRAVEL].level == 4
        assert "quern_loop" not in ride.planned


def test_windy_counts_two_hours_here_and_on_the_next_open_leg(friday: Ride) -> None:
    told = sound(friday, friday.say(at(FRIDAY, 9), "windy here"))
    assert "By the plan you are on Salt Causeway" in lines(told)[0]
    found = reports(friday)
    assert set(found) == {
        ("salt_causeway", ReportKind.WIND), ("quern_loop", ReportKind.WIND),
    }  # fmt: skip
    assert {(one.level, one.until) for one in found.values()} == {(2, at(FRIDAY, 11))}


def test_blown_about_is_avoid_and_says_to_stop_or_turn(friday: Ride) -> None:
    told = sound(friday, friday.say(at(FRIDAY, 9), "blown all over the road"))
    assert "slow, next stop or turn back" in lines(told)[0]
    assert {one.level for one in reports(friday).values()} == {3}


def test_dry_is_believed_for_this_leg_only_and_at_a_second_yes(friday: Ride) -> None:
    assert "Say yes" in friday.say(at(FRIDAY, 9), "it's dry here")
    assert not reports(friday)
    friday.say(at(FRIDAY, 9), "yes")
    assert set(reports(friday)) == {("salt_causeway", ReportKind.DRY)}


def test_rain_and_fog_count_at_once(friday: Ride) -> None:
    friday.say(at(FRIDAY, 9), "raining here")
    sound(friday, friday.say(at(FRIDAY, 9, 5), "fog bank ahead"))
    assert {kind for _, kind in reports(friday)} == {ReportKind.WET, ReportKind.FOG}


def test_the_boat_is_off_so_the_way_round() -> None:
    ride = Ride(SATURDAY)
    told = sound(ride, ride.say(at(SATURDAY, 10, 30), "ferry's off"))
    assert "No boat until tonight: Kelp Narrows ferry." in lines(told)[0]
    assert "narrows_ferry" not in ride.planned
    assert "round_the_inlet" in ride.planned


def test_a_missed_boat_means_the_next_one_or_round() -> None:
    """Boats at 13:15 (planned), then 14:35 by the tour file's table."""
    ride = Ride(SATURDAY)
    assert ride.state.shown is not None
    planned = next(leg for leg in ride.state.shown.briefing.legs if leg.id == "narrows_ferry")
    assert planned.sailing is not None
    told = sound(ride, ride.say(planned.sailing - timedelta(minutes=10), "missed the boat"))
    assert "Missed the " in lines(told)[0]
    assert "You are at West quay." in lines(told)[0]
    boats = [leg.sailing for leg in ride.state.shown.briefing.legs if leg.id == "narrows_ferry"]
    for sailing in boats:
        assert sailing is not None
        assert sailing > planned.sailing
    assert boats or "round_the_inlet" in ride.planned


def test_the_tide_board_beats_the_table_where_it_is_stricter(friday: Ride) -> None:
    """By the plan they are over at 10:40; the tour keeps 30 minutes of margin."""
    told = friday.say(at(FRIDAY, 8), "tide board says 11:30")
    assert "planned to be through 50 min before" in told
    assert "salt_causeway" in friday.planned
    told = sound(friday, friday.say(at(FRIDAY, 8), "tide board says 11:00"))
    assert "Shut from 11:00: Salt Causeway not today." in lines(told)[0]
    assert "salt_causeway" not in friday.planned


def test_a_board_that_gives_more_time_than_the_table_brings_no_causeway_back(friday: Ride) -> None:
    friday.say(at(FRIDAY, 7), "skip the salt causeway", "ok")
    assert "salt_causeway" not in friday.planned
    told = friday.say(at(FRIDAY, 8), "tide board says 18:30")
    assert "No tide is crossed in this plan." in told
    assert "A board only tightens: Salt Causeway stays out." in told
    assert "salt_causeway" not in friday.planned


def test_one_line_tells_what_is_ridden_and_what_is_missed_of_the_day_under_way(
    friday: Ride,
) -> None:
    """Both are logged, the ridden one is behind them, the missed one goes to another day."""
    before = friday.state.demands
    told = friday.say(at(FRIDAY, 10, 30), "done salt causeway, missed hask saddle (fog)")
    assert "Missed: Hask Saddle (fog)." in told
    assert "Ridden: Salt Causeway." in told
    log = {one.leg: one.outcome for one in friday.effects if isinstance(one, LogLeg)}
    assert log == {"hask_saddle": Outcome.MISSED, "salt_causeway": Outcome.RIDDEN}
    underway = friday.state.demands.underway
    assert underway is not None
    assert underway.ridden == {"salt_causeway"}
    assert "hask_saddle" not in friday.planned
    friday.say(at(FRIDAY, 10, 31), "undo")  # one undo for the one line
    assert friday.state.demands == before
    struck = [one.legs for one in friday.effects if isinstance(one, StrikeLog)]
    assert frozenset().union(*struck) == {"hask_saddle", "salt_causeway"}


def test_a_bare_done_is_of_the_leg_they_are_on(friday: Ride) -> None:
    told = friday.say(at(FRIDAY, 10, 30), "done")
    assert "Ridden: Salt Causeway." in told
    underway = friday.state.demands.underway
    assert underway is not None
    assert "salt_causeway" in underway.ridden


def test_a_bare_done_in_the_evening_asks_about_the_day(friday: Ride) -> None:
    assert friday.say(at(FRIDAY, 21), "done").startswith("All ridden: 1 ")


def test_lunch_takes_its_hour(friday: Ride) -> None:
    """Asked at 12:00 on Hask; at 13:00 they ride on."""
    before = friday.state.shown.briefing.arrival if friday.state.shown else None
    told = sound(friday, friday.say(at(FRIDAY, 12), "we're stopping for lunch, 1 hr"))
    assert "Stop of 60 min, on at 13:00." in lines(told)[0]
    underway = friday.state.demands.underway
    assert underway is not None
    assert underway.ready == at(FRIDAY, 13)
    assert before is not None
    assert friday.state.shown is not None
    arrival = friday.state.shown.briefing.arrival
    assert arrival is not None
    # The fuel planned at Orrowick falls out: what is in the tank by then is not known.
    longer = arrival - before
    assert timedelta(minutes=50) <= longer <= timedelta(hours=1) or "Dropped" in told
    assert "How long?" in friday.say(at(FRIDAY, 13), "stopping for lunch")


def test_a_puncture_stops_the_clock_and_tells_the_latest_restart(friday: Ride) -> None:
    """From 14:00 on the way home takes as long as it is told; dusk less that is the restart."""
    told = sound(friday, friday.say(at(FRIDAY, 14), "puncture"))
    assert "Moving by?" in lines(told)[0]
    plan = friday.state.shown.briefing if friday.state.shown else None
    assert plan is not None
    assert plan.way_home is not None
    assert plan.light.civil_dusk is not None
    ride = plan.way_home.arrival - plan.way_home.departure
    latest = (min(plan.light.civil_dusk, plan.way_home.limit) - ride).astimezone(TOUR.zone)
    assert f"Latest restart to be in Orrowick in light: {latest:%H:%M}." in lines(told)[1]
    where = friday.state.demands.underway
    assert where is not None
    told = sound(friday, friday.say(at(FRIDAY, 14, 20), "moving by 15:10"))
    assert "Moving at 15:10." in lines(told)[0]
    after = friday.state.demands.underway
    assert after is not None
    assert (after.on_leg, after.ready) == (where.on_leg, at(FRIDAY, 15, 10))


def test_tired_means_a_break_first_one_class_stricter_and_less_to_ride(friday: Ride) -> None:
    told = sound(friday, friday.say(at(FRIDAY, 9), "knackered"))
    assert lines(told)[0].startswith("Tired: a break of 15 min first. One class stricter.")
    assert friday.state.demands.stricter == 1
    underway = friday.state.demands.underway
    assert underway is not None
    assert underway.ready == at(FRIDAY, 9, 15)
    assert set(friday.planned) <= {"salt_causeway", "hask_saddle", "hask_valley_road"}
    assert ends_with_the_rest(told)
    friday.say(
        at(FRIDAY, 9, 20),
        "tired",
    )
    friday.say(at(FRIDAY, 9, 25), "tired")
    assert friday.state.demands.stricter == 2


def test_a_freezing_pillion_gets_warm_first_and_stops_every_hour(friday: Ride) -> None:
    told = sound(friday, friday.say(at(FRIDAY, 9), "pillion's freezing"))
    assert "get warm first, then stop every 60 min" in lines(told)[0]
    assert friday.state.demands.stricter == 1


def test_thunder_offers_nothing_to_ride(friday: Ride) -> None:
    """Half an hour after the last thunder: weather services' rule for people outdoors."""
    told = sound(friday, friday.say(at(FRIDAY, 10, 45), "thunder"))
    assert "into a building, not under trees" in lines(told)[0]
    assert "Ride on at 11:15 at the earliest." in told
    assert "Next:" not in told
    assert "Way home" not in told
    told = friday.say(at(FRIDAY, 11, 5), "thunder again")
    assert "Ride on at 11:35 at the earliest." in told


def test_fuel_at_sixty_miles_is_asked_about(friday: Ride) -> None:
    told = friday.say(at(FRIDAY, 9), "fuel at 60 miles")
    assert "1 left in the tank, or 2 fuel wanted 60 miles on?" in told
    told = sound(friday, friday.say(at(FRIDAY, 9), "1"))
    # 60 miles are 96.6 km; four fifths of that are planned on
    assert "60 miles left, I count on 77 km." in lines(told)[0]
    assert "Nearest fuel: Orrowick, about 67 km on." in lines(told)[0]


def test_fuel_that_may_not_last_to_the_pump_says_so(friday: Ride) -> None:
    """40 miles are 64.4 km, 51 of them planned on; the pump of Orrowick is about 67 km on."""
    friday.say(at(FRIDAY, 9), "fuel at 40 miles")
    told = sound(friday, friday.say(at(FRIDAY, 9), "1"))
    assert "40 miles left, I count on 51 km." in lines(told)[0]
    assert "Not sure to reach" in lines(told)[0]


def test_fuel_along_the_plan_is_told_with_its_distance() -> None:
    """On Sunday Coast home ends at the pump of Halfmoor, if it is ridden; else nearest as told."""
    ride = Ride(SUNDAY)
    assert ride.state.shown is not None
    told = ride.say(ride.state.shown.briefing.departure or at(SUNDAY, 9), "where is fuel")
    assert "Fuel: " in told
    assert "Smallest tank 340 km." in told  # R2's machine


def test_a_number_without_unit_is_the_riders_own_and_is_echoed(friday: Ride) -> None:
    assert "60 km" in friday.say(at(FRIDAY, 9), "fuel 60")


def test_turning_back_rides_out_the_way_they_came(friday: Ride) -> None:
    told = sound(friday, friday.say(at(FRIDAY, 13), "turning back"))
    assert "By the plan you are on Hask Saddle." in lines(told)[0]
    assert friday.planned[0] == back_over("hask_saddle")
    assert "hask_saddle" not in friday.planned


def test_home_is_tried_and_taken_by_an_ok(friday: Ride) -> None:
    before = friday.state.demands
    told = sound(friday, friday.say(at(FRIDAY, 13), "shortest way home"))
    assert "Only tried: ok takes it" in told
    assert friday.state.demands == before
    friday.say(at(FRIDAY, 13, 1), "ok")
    assert friday.state.demands.homeward
    assert friday.planned in (["hask_saddle"], [back_over("hask_saddle")])


def test_another_night_says_what_tomorrow_becomes() -> None:
    ride = Ride(SATURDAY)
    told = ride.say(at(SATURDAY, 8), "stay another night")
    assert "Night of Sat in Orrowick, not in Tolfen. Sun then runs from Orrowick to Tolfen." in told
    assert ride.state.demands.nights == {(SATURDAY, "orrowick")}
    assert ride.state.shown is not None
    assert ride.state.shown.briefing.base_to == "Orrowick"


def test_reverse_is_tried_and_says_what_cannot_be_forced(friday: Ride) -> None:
    told = sound(friday, friday.say(at(FRIDAY, 8), "reverse it"))
    assert "weighed already" in told
    assert friday.state.trial is not None
    tried = [leg.id for leg in friday.state.trial.briefing.legs]
    assert friday.state.shown is not None
    order = [leg.id for leg in friday.state.shown.briefing.legs if leg.id in tried]
    assert len(order) > 1
    assert [leg for leg in tried if leg in order] == order[::-1]
    assert "I cannot force" in friday.say(at(FRIDAY, 8), "reverse quern loop")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("somebody wants to go home", "no name is kept"),
        ("can we fly at the point", "Local rules"),
        ("how long have I got", "to spare"),
        ("is the pass open?", "Check the "),
        ("my limit is 60 mph", "only take stricter limits"),
        ("where is fuel", "Fuel"),
    ],
)
def test_what_is_only_asked_changes_nothing_and_ends_with_the_rest(
    friday: Ride, line: str, said: str
) -> None:
    before = friday.state.demands
    told = sound(friday, friday.say(at(FRIDAY, 11), line))
    assert said in told
    assert friday.state.demands == before
    assert not [effect for effect in friday.effects if isinstance(effect, Remember)]
    assert ends_with_the_rest(told)


def gusts(value: float) -> Callable[[pd.DatetimeIndex], np.ndarray]:
    return lambda hours: np.full(len(hours), value)


@pytest.mark.parametrize(
    ("gust", "said"), [(5.0, "within it"), (7.0, "close to it"), (9.5, ": no.")]
)
def test_flying_is_held_to_the_makers_gust_limit(gust: float, said: str) -> None:
    """The tour file's drone takes 9.3 m/s; from seven tenths of it caution (common practice)."""
    ride = Ride(FRIDAY, MadeWeather(wind_speed_of_gust=gusts(gust)))
    assert said in ride.say(at(FRIDAY, 8), "can we fly at the point")


def test_a_stricter_limit_is_taken_on_the_road(friday: Ride) -> None:
    told = friday.say(at(FRIDAY, 9), "my limit is 35 mph")
    assert lines(told)[0].startswith("35 mph: ")
    assert friday.state.demands.stricter == 1


def test_done_marks_a_leg_and_undo_takes_the_mark_back(friday: Ride) -> None:
    told = sound(friday, friday.say(at(FRIDAY, 13), "done hask saddle"))
    assert "Ridden: Hask Saddle. You are at Orrowick." in lines(told)[0]
    assert LogLeg(leg="hask_saddle", day=FRIDAY, outcome=Outcome.RIDDEN) in friday.effects
    assert "hask_saddle" not in friday.planned
    friday.say(at(FRIDAY, 13, 5), "undo")
    assert friday.state.demands.underway is None
    assert "hask_saddle" in friday.planned
    struck = [effect for effect in friday.effects if isinstance(effect, StrikeLog)]
    assert struck
    assert "hask_saddle" in struck[0].legs


def test_at_a_place_the_rest_begins_there(friday: Ride) -> None:
    """Haskfoot lies on the saddle's leg; Orrowick is a place of its own."""
    sound(friday, friday.say(at(FRIDAY, 11, 30), "i am at haskfoot"))
    underway = friday.state.demands.underway
    assert underway is not None
    assert underway.on_leg is not None
    assert underway.on_leg.leg == "hask_saddle"
    sound(friday, friday.say(at(FRIDAY, 13, 30), "at orrowick"))
    underway = friday.state.demands.underway
    assert underway is not None
    assert underway.place == "orrowick"


def test_too_late_for_any_plan_it_is_said_and_the_way_home_told(friday: Ride) -> None:
    """The reception closes at 21:00; at 20:30, with Gannet not begun, nothing holds."""
    told = friday.say(at(FRIDAY, 20, 55), "at haskfoot")
    assert friday.state.shown is not None
    assert friday.state.shown.briefing.decision is Decision.NO_WAY
    assert "No plan holds from here" in told
    assert "Way home: " in told
    assert "too late for the limit 21:00" in told


def test_the_road_is_not_talked_about_on_another_day(friday: Ride) -> None:
    before = friday.state.demands
    assert "not being ridden" in friday.say(at(SATURDAY, 9), "puncture")
    assert friday.state.demands == before


def position(leg: str, fraction: float, sent: datetime, *, live: bool) -> PositionCame:
    where = Underway(
        at=sent, ready=sent, on_leg=OnLeg(leg=leg, way=Way.FORWARD, fraction=fraction), live=live
    )
    return PositionCame(underway=where, live=live, sent=sent)


def test_a_shared_position_plans_the_rest_from_there(friday: Ride) -> None:
    told = sound(friday, friday.shares(position("hask_saddle", 0.6, at(FRIDAY, 12), live=False)))
    assert lines(told)[0] == "Position taken. You are on Hask Saddle."
    assert friday.planned[0] == "hask_saddle"
    assert "salt_causeway" not in friday.planned  # ridden by the plan before that leg
    assert ends_with_the_rest(told)


def test_a_live_position_by_the_plan_is_one_line_edited_in_place(friday: Ride) -> None:
    """At 11:30 the plan has 50 of 165 minutes of Hask behind them."""
    told = friday.shares(position("hask_saddle", 50 / 165, at(FRIDAY, 11, 30), live=True))
    (said,) = [effect for effect in friday.effects if isinstance(effect, Say)]
    assert said.slot == "status"
    assert len(lines(told)) == 1
    assert "You are on Hask Saddle." in told
    assert not [effect for effect in friday.effects if isinstance(effect, Replan)]


def test_a_live_position_later_than_there_is_to_spare_plans_anew(friday: Ride) -> None:
    """About two hours behind, with less to spare."""
    told = friday.shares(position("hask_saddle", 50 / 165, at(FRIDAY, 15), live=True))
    before = friday.state.accepted
    assert before is not None
    assert "126 min late, more than there is to spare." in told
    (asked,) = [effect for effect in friday.effects if isinstance(effect, Replan)]
    underway = asked.demands.underway
    assert underway is not None
    # What they ride by is their own order from now on; how long they have ridden is not forgotten.
    legs = [leg.id for leg in before.briefing.legs]
    assert list(underway.riding) == [leg for leg in legs if leg != "hask_saddle"]
    assert underway.ridden_minutes > 0.0


def test_what_was_told_of_the_tank_without_a_plan_made_of_it_still_counts(friday: Ride) -> None:
    """Half an hour after they have filled up on the pass no plan has been made of that yet."""
    on = OnLeg(leg="hask_saddle", way=Way.FORWARD, fraction=0.3)
    told = Underway(
        at=at(FRIDAY, 11), ready=at(FRIDAY, 11), on_leg=on, tank_km=0.0, tank_told_km=0.0
    )
    friday.state = replace(friday.state, demands=replace(friday.state.demands, underway=told))
    friday.shares(position("hask_saddle", 0.31, at(FRIDAY, 11, 30), live=True))
    known = friday.state.demands.underway
    assert known is not None
    assert known.tank_told_km == 0.0
    assert known.tank_km == 0.0


@pytest.mark.parametrize("live", [True, False])
def test_who_has_said_that_he_turns_back_does_so_in_the_next_position(
    friday: Ride, *, live: bool
) -> None:
    friday.say(at(FRIDAY, 13), "turning back")
    for minute, fraction in ((5, 0.35), (10, 0.3)):
        friday.shares(position("hask_saddle", fraction, at(FRIDAY, 13, minute), live=live))
        assert friday.state.demands.underway is not None
        assert friday.state.demands.underway.turning_back
        assert friday.planned[0] == back_over("hask_saddle")
    # Seen on a leg that runs beside it they still do; at its start they are done with it.
    friday.shares(position(friday.planned[1], 0.1, at(FRIDAY, 13, 15), live=True))
    friday.shares(position("hask_saddle", 0.2, at(FRIDAY, 13, 20), live=True))
    assert friday.state.demands.underway.turning_back
    start = at(FRIDAY, 13, 40)
    there = Underway(at=start, ready=start, place="orrowick", live=True)
    friday.shares(PositionCame(underway=there, live=True, sent=start))
    friday.shares(position("hask_saddle", 0.1, at(FRIDAY, 13, 50), live=True))
    assert not friday.state.demands.underway.turning_back


def test_turning_back_is_over_when_they_say_where_they_go(friday: Ride) -> None:
    friday.say(at(FRIDAY, 13), "turning back")
    friday.say(at(FRIDAY, 13, 5), "now on hask saddle")
    friday.shares(position("hask_saddle", 0.5, at(FRIDAY, 13, 10), live=True))
    assert friday.state.demands.underway is not None
    assert not friday.state.demands.underway.turning_back
    assert friday.planned[0] == "hask_saddle"


def test_a_live_position_on_a_leg_that_is_not_planned_plans_anew(friday: Ride) -> None:
    told = friday.shares(position("hask_valley_road", 0.4, at(FRIDAY, 11, 30), live=True))
    assert "Off the plan." in told
    friday.shares(position("hask_valley_road", 0.5, at(FRIDAY, 11, 40), live=True))
    assert not [effect for effect in friday.effects if isinstance(effect, Replan)]


def test_who_does_not_lead_sees_his_own_way_home_and_nothing_is_kept() -> None:
    ride = Ride(FRIDAY, leads=False)
    before = ride.state
    for line in ("running 40 late", "home", "puncture", "done hask saddle"):
        told = ride.say(at(FRIDAY, 11), line)
        assert "Who leads decides" in told
        assert "In by" in told
        assert ride.state.demands == before.demands
        assert ride.state.shown == before.shown
        assert ride.state.trial is None
        assert not [effect for effect in ride.effects if isinstance(effect, Remember)]
    ride.shares(position("hask_saddle", 0.6, at(FRIDAY, 12), live=False))
    assert ride.state.demands == before.demands


def test_who_does_not_lead_may_add_a_caution() -> None:
    ride = Ride(FRIDAY, leads=False)
    ride.say(at(FRIDAY, 9), "brindle loop is closed")
    assert ("brindle_loop", ReportKind.CLOSED) in reports(ride)


def test_undo_of_a_report_needs_a_second_yes(friday: Ride) -> None:
    friday.say(at(FRIDAY, 9), "ice on hask saddle")
    assert "Say yes" in friday.say(at(FRIDAY, 9, 1), "undo")
    assert reports(friday)
    friday.say(at(FRIDAY, 9, 2), "yes")
    assert not reports(friday)


def test_start_over_keeps_what_riders_have_met(friday: Ride) -> None:
    friday.say(at(FRIDAY, 9), "ice on hask saddle", "tired", "start over")
    assert ("hask_saddle", ReportKind.SLIPPERY) in reports(friday)
    assert friday.state.demands.stricter == 1
    assert friday.state.demands.underway is not None


def test_whoever_is_on_a_leg_has_not_ridden_it_whatever_was_reckoned(friday: Ride) -> None:
    """At 15:30 the plan has Hask behind them; their position says that they are still on it."""
    friday.say(at(FRIDAY, 15, 30), "windy here")
    assert friday.state.demands.underway is not None
    assert "hask_saddle" in friday.state.demands.underway.ridden
    friday.shares(position("hask_saddle", 0.9, at(FRIDAY, 15, 35), live=False))
    assert friday.planned[0] == "hask_saddle"
    assert friday.state.demands.underway.ridden == {"salt_causeway", "quern_loop"}


def test_a_leg_reckoned_as_ridden_is_written_down_when_it_is_told(friday: Ride) -> None:
    told = friday.say(at(FRIDAY, 15, 20), "hask saddle is done")
    assert "ridden, as reckoned" in told
    assert LogLeg(leg="hask_saddle", day=FRIDAY, outcome=Outcome.RIDDEN) in friday.effects


@pytest.mark.parametrize(("line", "hour"), [("filled up", 12), ("filled up, moving on", 11)])
def test_who_goes_on_from_the_pump_rides_at_once(friday: Ride, line: str, hour: int) -> None:
    """A halt of 90 minutes was told; half an hour later they have filled up."""
    friday.say(at(FRIDAY, 10, 30), "lunch 90 min")
    friday.say(at(FRIDAY, 11), line)
    underway = friday.state.demands.underway
    assert underway is not None
    assert (underway.tank_km, underway.ready) == (0.0, at(FRIDAY, hour))
    assert friday.state.accepted == Ride(FRIDAY).state.accepted


@pytest.mark.parametrize(
    ("line", "minute", "rested"),
    [
        ("moving", 44, True),
        ("moving", 15, True),
        ("moving", 14, False),
        ("moving by 10:50", 5, True),  # they wait until then
        ("moving by 10:40", 5, False),
        ("filled up, moving on", 20, True),
        ("filled up, moving on", 5, False),
    ],
)
def test_a_told_halt_is_a_rest_if_it_lasted(
    friday: Ride, line: str, minute: int, *, rested: bool
) -> None:
    """Rule 91: a quarter of an hour. The halt was told at 10:30, for 45 minutes."""
    friday.say(at(FRIDAY, 10, 30), "lunch 45 min")
    halted = friday.state.demands.underway
    assert halted is not None
    assert halted.ridden_minutes > 30.0
    friday.say(at(FRIDAY, 10, 30) + timedelta(minutes=minute), line)
    underway = friday.state.demands.underway
    assert underway is not None
    assert underway.ridden_minutes == (0.0 if rested else halted.ridden_minutes)
    assert underway.ridden_in_one_go(15.0) == underway.ridden_minutes


def test_who_moves_from_where_nobody_said_he_halts_has_not_rested(friday: Ride) -> None:
    friday.say(at(FRIDAY, 10, 30), "at orrowick")
    there = friday.state.demands.underway
    assert there is not None
    friday.say(at(FRIDAY, 10, 50), "moving")
    underway = friday.state.demands.underway
    assert underway is not None
    assert underway.ridden_minutes >= there.ridden_minutes > 0.0
