"""The evening message: its limits hold for every briefing, and what it says is the briefing's."""

from dataclasses import replace
from datetime import timedelta

import pytest
from briefings import (
    ALL,
    AS_PLANNED,
    BRINDLE,
    CAUSEWAY,
    CLOCK_CHANGE,
    GUST,
    HASK,
    IMPERIAL,
    LATE,
    MANY,
    MISSING_DATA,
    NO_GO_ROADS,
    NO_WAY,
    POLAR_DAY,
    POLAR_NIGHT,
    REST_DAY,
    ROAD_GUST,
    ROAD_HOME,
    STALE,
    STAND_IN,
    SWAP,
    TONIGHT,
    WET,
    WINDY_ROADS,
    at,
)
from generated import briefings, quick
from hypothesis import given

from replanner.advice.as_json import as_json
from replanner.advice.briefing import Briefing, ChangeKind, Decision, Hurdle, HurdleKind, ShutHalt
from replanner.advice.spoken import spoken
from replanner.advice.text import message, why
from replanner.hazards.register import HAZARDS
from replanner.planning.demand import Demand, DemandKind

WHOSE_WORD = ("signs and police decide", "signs, police and your own eyes decide")


def assert_limits(text: str) -> None:
    """Ten lines, 650 characters, about 60 a line; line one stands alone."""
    lines = text.split("\n")
    assert len(lines) <= 10
    assert len(text) <= 650
    assert all(line.strip() for line in lines)
    assert len(lines[0]) <= 60
    assert max(map(len, lines)) <= 72


@pytest.mark.parametrize("name", ALL)
def test_every_example_keeps_the_limits_and_reads_in_about_90_words(name: str) -> None:
    text = message(ALL[name])
    assert_limits(text)
    assert len(text.split()) <= (90 if name != "many" else 110)
    for raw in ("None", "nan", "_"):
        assert raw not in text


@quick
@given(briefings())
def test_any_briefing_keeps_the_limits_and_what_must_never_go(briefing: Briefing) -> None:
    text = message(briefing)
    lines = text.split("\n")
    assert_limits(text)
    assert not any(hazard.name in text for hazard in HAZARDS if "_" in hazard.name)
    assert " nan" not in text
    assert any(word in text for word in WHOSE_WORD)
    if briefing.departure is not None:
        assert any("Leave " in line for line in lines[1:])
        assert "In by " in text or briefing.arrival is None
    if briefing.odds is not None:
        assert " to hold (" in text
    if briefing.unknown:
        assert "No data for " in text
    if briefing.warnings is None:
        assert "No official warnings checked" in text
    if briefing.warnings:
        assert "Official warning" in text
    if briefing.plan_stale:
        assert lines[0].startswith("OLD PLAN")
        assert "No new plan" in text
    if briefing.origin.stale:
        assert "OLD " in lines[-1]
    if briefing.invented:
        assert "INVENTED" in lines[-1]
    if any(leg.severity >= 4 for leg in briefing.legs):
        assert "no-go" in text.casefold()


def test_a_swap_says_what_to_do_when_why_and_what_else() -> None:
    lines = message(SWAP).split("\n")
    assert lines[0] == "Fri 16 Oct: SWAP. Salt Causeway first, Hask Saddle at 15:15"
    assert lines[1].startswith("Leave 08:30; 08:40 Salt Causeway")
    assert "In by 18:00, sunset 18:12, spare 65 min" in lines
    assert "Why: Hask Saddle at 09:00 wet track, 24-h rain 4.2, limit 2 mm" in lines
    assert "Haskfoot by 16:15. Track still wet? Take Valley Road" in lines
    assert "Left out: Gannet Head" in lines
    assert any(line.startswith("Likely to hold (7 in 10, estimated)") for line in lines)
    kept = tuple(change for change in SWAP.changes if change.kind is not ChangeKind.LEFT_OUT)
    lines = message(replace(SWAP, changes=kept)).split("\n")
    assert any(line.startswith("Your order: Hask Saddle at 09:00 avoid") for line in lines)


def test_legs_come_in_riding_order() -> None:
    text = message(SWAP)
    found = [text.index(f"{time} ") for time in ("08:40 Salt", "11:45 Brindle", "15:15 Hask")]
    assert found == sorted(found)


def test_times_are_local_and_units_the_riders() -> None:
    text = message(IMPERIAL)
    assert "at 09:00 wet track, 24-h rain 0.17, limit 0.08 in" in text
    assert "31 mph" in text  # 13.6 m/s is 30.4 mph: over its limit of 30, so never told as 30
    assert "km/h" not in text


def test_a_stand_in_and_the_no_go_leg_are_named() -> None:
    lines = message(STAND_IN).split("\n")
    assert lines[0] == "Fri 16 Oct: STAND-IN. Valley Road, not Hask Saddle"
    assert "No-go: Hask Saddle at 14:00 gust 96, limit 64 km/h, Hask top" in lines


def test_no_way_says_so_and_gives_no_hours_to_ride() -> None:
    text = message(NO_WAY)
    assert text.startswith("Fri 16 Oct: NO SAFE WAY. Hask Saddle")
    assert "Leave" not in text
    assert "In by" not in text
    assert "Your order no-go: Hask Saddle at 14:00 gust 96 km/h; 1 more" in text
    assert text.count("Hask Saddle") == 2  # what the own order fails by is told once


def test_a_rest_day_says_where_to_stay() -> None:
    assert message(REST_DAY).startswith("Fri 16 Oct: REST DAY. Stay in Orrowick")


def test_missing_data_is_said_plainly_and_at_the_leg() -> None:
    text = message(MISSING_DATA)
    assert "No data for fog and low cloud: treat as caution" in text
    assert "11:45 Brindle Low Road: no data for fog" in text
    assert "Check before leaving" in text


def test_a_known_hazard_with_its_figure_is_told_beside_an_unknown_one() -> None:
    milder = replace(HASK, severity=1.6)
    day = replace(MISSING_DATA, legs=(*MISSING_DATA.legs[:2], milder))
    text = message(day)
    assert "Why: worst known Hask Saddle at 15:00 gust 49 km/h" in text
    assert "No data for fog and low cloud: treat as caution" in text
    assert "Brindle Low Road: no data for fog" in text
    alone = message(replace(MISSING_DATA, legs=MISSING_DATA.legs[:2]))
    assert "at 10:00 no data for fog" in alone


def with_shut(*shut: ShutHalt, halt_kinds: tuple[str, ...] = ()) -> Briefing:
    first, *others = AS_PLANNED.legs
    return replace(AS_PLANNED, legs=(replace(first, shut=shut, halt_kinds=halt_kinds), *others))


INN = ShutHalt(
    place="Quern inn", kind="cafe", passed=at("09:40"), opens=at("11:00"), closes=at("13:30")
)


def test_a_halt_left_out_for_its_hours_is_told_with_them() -> None:
    """Whoever reads it may leave later: that nobody would find it open was told nowhere."""
    told = with_shut(INN)
    assert "Shut at 10:40: Quern inn, open 12:00 to 14:30" in message(told).splitlines()
    assert "Shut when you pass, Quern inn at" in spoken(told)
    assert as_json(told)["legs"][0]["shut"] == [  # type: ignore[index]
        {
            "place": "Quern inn",
            "kind": "cafe",
            "passed": "2026-10-16T10:40:00+01:00",
            "opens": "2026-10-16T12:00:00+01:00",
            "closes": "2026-10-16T14:30:00+01:00",
        }
    ]


def test_a_halt_without_hours_that_day_is_shut_that_day() -> None:
    told = with_shut(replace(INN, kind="visit", opens=None, closes=None))
    assert "Shut that day: Quern inn, passed 10:40" in message(told).splitlines()


def test_a_shut_cafe_is_no_loss_where_another_is_open() -> None:
    other = with_shut(INN, halt_kinds=("cafe",))
    assert "Shut" not in message(other) + spoken(other)
    castle = with_shut(replace(INN, kind="visit"), halt_kinds=("cafe",))
    assert "Shut at 10:40: Quern inn" in message(castle)


def test_an_old_plan_says_so_first_and_tells_no_age_that_would_be_wrong_later() -> None:
    lines = message(STALE).split("\n")
    assert lines[0] == "OLD PLAN of Wed 19:30, not checked: Fri 16 Oct SWAP"
    assert lines[1] == "No new plan: no answer from Invented Weather"
    assert lines[-1].startswith("INVENTED OLD data of Wed 13:00: ")


def test_a_leg_left_out_is_named_where_the_headline_is_about_something_else() -> None:
    (dropped,) = (change for change in SWAP.changes if change.kind is ChangeKind.LEFT_OUT)
    later = replace(
        LATE, changes=(*LATE.changes, dropped), left_out=SWAP.left_out, decision_points=()
    )
    name = next(leg.name for leg in SWAP.left_out if leg.id == dropped.leg)
    assert f"Left out: {name}" in message(later).split("\n")
    assert "Left out" not in message(LATE)
    alone = replace(later, decision=Decision.LEAVE_OUT, changes=(dropped,))
    assert message(alone).startswith(f"Fri 16 Oct: LEAVE OUT. {name}")
    assert "Left out" not in message(alone)


def test_later_leaving_names_both_times() -> None:
    assert message(LATE).startswith("Fri 16 Oct: LEAVE LATER. Leave 10:30, not 08:30")


def test_a_loop_before_check_in_is_named() -> None:
    assert "Before check-in: Gannet Head; later days gain" in message(TONIGHT)


def test_midnight_sun_and_polar_night() -> None:
    assert "no sunset" in message(POLAR_DAY)
    dark = replace(POLAR_DAY, light=replace(POLAR_DAY.light, never_light=True))
    assert "dark all day" in message(dark)
    assert "no sunset" not in message(dark)
    assert "the sun stays down, dark from 14:20" in message(POLAR_NIGHT)


def test_a_clock_change_is_told_and_times_are_the_new_ones() -> None:
    text = message(CLOCK_CHANGE)
    assert "Clocks go back 60 min" in text
    assert "Leave 07:30" in text  # 07:30 UTC is 07:30 after the change, 08:30 before it
    assert "Clocks" not in message(SWAP)


def test_many_long_names_leave_every_grave_leg_in() -> None:
    text = message(MANY)
    for leg in MANY.legs:
        if leg.severity >= 3:
            local = (leg.start + timedelta(hours=1)).strftime("%H:%M")
            assert f"{local} " in text


def test_an_arrival_after_midnight_carries_its_weekday() -> None:
    text = message(replace(SWAP, arrival=at("23:40")))
    assert "In by Sat 00:40" in text


def test_a_no_go_leg_ridden_all_the_same_stands_in_line_one() -> None:
    forced = replace(AS_PLANNED, legs=(replace(HASK, severity=4.0, hazard=GUST),))
    lines = message(forced).split("\n")
    assert "Hask Saddle is no-go at 15:15" in lines[0]
    assert "No-go: Hask Saddle at 14:00 gust 96, limit 64 km/h, Hask top" in lines


def test_the_worst_plain_road_is_told_with_its_figure() -> None:
    text = message(WINDY_ROADS)
    assert "Road to Brindle Foot at 11:00 gust 77, limit 64 km/h" in text.split("\n")
    assert "Orrowick at" not in text  # the road home is harmless
    assert "worst Hask" not in text  # the road is worse
    assert "gust" in spoken(WINDY_ROADS)
    known = replace(WINDY_ROADS, roads=(replace(ROAD_GUST, severity=1.9), ROAD_HOME))
    assert "Road to" not in message(known)
    assert "Road to" not in message(replace(WINDY_ROADS, roads=None))


def test_a_no_go_road_stands_in_line_one() -> None:
    text = message(NO_GO_ROADS)
    lines = text.split("\n")
    assert "No-go road to Brindle Foot at 10:05" in lines[0]
    assert "No-go: road to Brindle Foot at 14:00 gust 105, limit 64 km/h" in lines
    assert "no-go, road to Brindle Foot" in spoken(NO_GO_ROADS).replace("No-go", "no-go")


def test_riders_are_told_how_long_to_wait_before_a_road() -> None:
    """What they would miss of the weather by it is not told, but that it is worse till then."""
    fair = replace(WINDY_ROADS, roads=(replace(ROAD_HOME, waits=True),))
    assert "Not before 16:45 to Orrowick: worse till then" in message(fair)
    still = replace(WINDY_ROADS, roads=(replace(ROAD_GUST, waits=True), ROAD_HOME))
    assert "Not before 10:05 to Brindle Foot: at 11:00 gust 77" in message(still)


def test_names_are_text_never_markup_for_placeholders() -> None:
    legs = (replace(HASK, name="{time} {leg!r} %s {0}"),)
    assert "{time} {leg!r} %s {0}" in message(replace(AS_PLANNED, legs=legs))


def test_the_own_order_asked_for_against_a_limit_says_that_it_cannot_be() -> None:
    broken = Hurdle(kind=HurdleKind.TIDE, leg="causeway", at=at("08:15"))
    own = replace(AS_PLANNED.own_order, value_minutes=None, severity=1.0, breaks=broken)
    forced = replace(AS_PLANNED, value_minutes=None, arrival=None, own_order=own)
    text = message(forced)
    assert text.startswith("Fri 16 Oct: AS PLANNED. It cannot be ridden")
    assert "Your order cannot be ridden: tide at Salt Causeway at 09:15" in text
    assert "Not in by the day's limit" in text


def test_demands_that_cannot_hold_together_are_named_with_names_and_local_times() -> None:
    blame = (
        Demand(kind=DemandKind.RIDE, legs=("hask",)),
        Demand(kind=DemandKind.END_BY, slot=20, by=at("17:00")),
    )
    left_out = tuple(replace(leg, cause="no time", reason=None) for leg in NO_WAY.left_out)
    text = message(replace(NO_WAY, blame=blame, left_out=left_out))
    clash = "No plan keeps all of: riding Hask Saddle; being in by 18:00"
    assert clash in text
    assert clash in why(replace(NO_WAY, blame=blame, left_out=left_out))
    assert text.startswith("Fri 16 Oct: NO SAFE WAY. Not all of it fits the day")


@pytest.mark.parametrize(
    ("kind", "legs", "told"),
    [
        (DemandKind.RIDE, ("hask",), "riding Hask Saddle"),
        (DemandKind.RIDE, ("hask", "causeway"), "riding Hask Saddle or Salt Causeway"),
        (DemandKind.BEFORE, ("hask", "causeway"), "Hask Saddle before Salt Causeway"),
        (DemandKind.AT_MOST_ONE, ("hask", "causeway"), "not both Hask Saddle and Salt Causeway"),
        (
            DemandKind.AT_MOST_ONE,
            ("hask", "causeway", "valley"),
            "only one of Hask Saddle and Salt Causeway and Valley Road",
        ),
        (DemandKind.START_BY, (), "leaving by 08:30"),
        (DemandKind.END_BY, (), "being in by 08:30"),
        (DemandKind.A_WAY, (), "a way from the start to the end of the day"),
    ],
)
def test_every_demand_reads_plainly(kind: DemandKind, legs: tuple[str, ...], told: str) -> None:
    demand = Demand(kind=kind, legs=legs, slot=3, by=at("07:30"))
    other = Demand(kind=DemandKind.RIDE, legs=("gannet",))
    day = replace(
        NO_WAY, blame=(demand, other), names={"gannet": "Gannet Head", "valley": "Valley Road"}
    )
    clash = message(day).replace("\n", " ")
    assert f"No plan keeps all of: {told}; riding Gannet Head" in clash
    assert as_json(day)["blame"] == [told, "riding Gannet Head"]


def test_the_leg_that_no_plan_keeps_is_said_once_with_what_it_would_take() -> None:
    causeway, hask = (
        replace(leg, to_ride_it=Hurdle(kind=HurdleKind.HAZARD, leg=leg.id))
        for leg in NO_WAY.left_out[::-1]
    )
    day = replace(
        NO_WAY, blame=(Demand(kind=DemandKind.RIDE, legs=("hask",)),), left_out=(causeway, hask)
    )
    text = message(day)
    assert "NO SAFE WAY. Hask Saddle, gust 96 km/h" in text  # what the own order fails by
    assert "It would take better weather for Hask Saddle" in text
    assert "No plan keeps" not in text


def test_sailings_and_halts_are_the_thing_to_know_of_a_quiet_leg() -> None:
    ferry = replace(CAUSEWAY, note="", sailing=at("08:15"))
    photo = replace(BRINDLE, halts=(("Gannet Point", at("11:20")),))
    text = message(replace(AS_PLANNED, legs=(ferry, photo)))
    assert "08:40 Salt Causeway: boat 09:15" in text
    assert "11:45 Brindle Low Road: halt 12:20 at Gannet Point" in text


def test_a_halt_for_a_picture_or_fuel_is_called_so_and_comes_before_others() -> None:
    halts = (("Inn", at("10:50")), ("Quern", at("11:20")))
    ride = replace(BRINDLE, halts=halts, halt_kinds=("cafe", "photo"))
    assert "Brindle Low Road: photo 12:20 at Quern" in message(replace(AS_PLANNED, legs=(ride,)))
    ride = replace(ride, halt_kinds=("visit", "cafe"))
    assert "Brindle Low Road: visit 11:50 at Inn" in message(replace(AS_PLANNED, legs=(ride,)))


def test_the_hour_of_leaving_is_said_once() -> None:
    at_once = replace(AS_PLANNED, departure=CAUSEWAY.start)
    assert message(at_once).split("\n")[1] == "Leave 08:40, Salt Causeway: cross 09:15"
    assert "Leave 08:30; 08:40 Salt Causeway: cross 09:15" in message(AS_PLANNED)


def test_without_a_sign_to_look_for_the_hour_alone_decides() -> None:
    (point,) = SWAP.decision_points
    late = replace(SWAP, decision_points=(replace(point, rule=None),))
    assert "Haskfoot by 16:15. Later? Take Valley Road" in message(late)
    sun = replace(WET, name="low_sun")  # no ground to take another road
    late = replace(SWAP, decision_points=(replace(point, rule=sun),))
    assert "Haskfoot by 16:15. Later? Take Valley Road" in message(late)


def test_at_the_quay_the_boat_decides() -> None:
    (point,) = SWAP.decision_points
    boat = replace(HASK, kind="crossing")
    crossing = replace(SWAP, legs=(boat,), decision_points=(replace(point, rule=None),))
    assert "Haskfoot by 16:15. No boat or later? Take Valley Road" in message(crossing)


@pytest.mark.parametrize(
    ("minutes", "told"),
    [
        (0.5, "INVENTED data just in: "),
        (1, "INVENTED data 1 min old: "),
        (-1, "INVENTED data fetched Thu 19:31: "),
        (-60 * 24 * 30, "INVENTED data fetched Sat 14 Nov 18:30: "),  # a replay of an old day
    ],
)
def test_the_age_of_the_data(minutes: float, told: str) -> None:
    fetched = SWAP.made_at - timedelta(minutes=minutes)
    origin = replace(SWAP.origin, issued=None, fetched=fetched)
    assert message(replace(SWAP, origin=origin)).split("\n")[-1].startswith(told)


def test_a_reason_of_legs_that_changed_places_is_not_laid_to_the_wrong_leg() -> None:
    """What another leg would have met is told by its place, not as met on the moved leg."""
    (moved, left_out) = SWAP.changes
    other = replace(GUST, section="Salt flats")
    day = replace(SWAP, changes=(replace(moved, reason=other), left_out))
    assert "Why: at 14:00 gust 96, limit 64 km/h, Salt flats" in message(day)


@pytest.mark.parametrize("name", [name for name in ALL if name != "many"])
def test_names_are_not_cut_short_in_any_ordinary_evening(name: str) -> None:
    assert "…" not in message(ALL[name])
    assert "…" not in why(ALL[name])
