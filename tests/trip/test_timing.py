import pytest
from hypothesis import given
from hypothesis import strategies as st

from replanner.trip.model import LegKind, Road, Section
from replanner.trip.timing import Speeds, break_minutes, estimate_leg_minutes, estimate_minutes

SPEEDS = Speeds()
ROADS = [kind for kind in LegKind if kind not in {LegKind.CROSSING, LegKind.STOP}]
GRAVEL = Road(surface="gravel")


@pytest.mark.parametrize("main_road_share", [0.5, 0.6, 0.7, 0.75])
def test_first_day_of_362_miles_takes_about_ten_hours(main_road_share: float) -> None:
    # common practice, no source: 362 miles of main road and slow coast road, about 10 h riding.
    kilometres = 362 * 1.609344
    main = estimate_minutes(kilometres * main_road_share, LegKind.TRANSIT, Road(), SPEEDS)
    coast = estimate_minutes(kilometres * (1 - main_road_share), LegKind.COAST_LANE, Road(), SPEEDS)
    assert main + coast == pytest.approx(600, rel=0.10)


def test_a_small_peninsula_loop_is_about_an_hour() -> None:
    # common practice, no source: a loop of some 45 km round a small peninsula.
    assert estimate_minutes(45, LegKind.LOOP, Road(), SPEEDS) == pytest.approx(60, rel=0.10)


def test_gravel_keeps_to_the_speed_the_road_authority_names() -> None:
    # New Zealand Department of Conservation: 40 to 50 km/h on unsealed roads.
    for kind in ROADS:
        minutes = estimate_minutes(50, kind, GRAVEL, SPEEDS)
        assert minutes >= 60, kind
    assert estimate_minutes(45, LegKind.TRANSIT, GRAVEL, SPEEDS) == pytest.approx(60)


def test_a_track_is_slower_than_gravel_and_a_steep_road_than_a_flat_one() -> None:
    track = estimate_minutes(10, LegKind.PASS, Road(surface="grass"), SPEEDS)
    assert track > estimate_minutes(10, LegKind.PASS, GRAVEL, SPEEDS)
    steep = estimate_minutes(10, LegKind.PASS, Road(steepest_grade_percent=17), SPEEDS)
    flat = estimate_minutes(10, LegKind.PASS, Road(steepest_grade_percent=8), SPEEDS)
    assert steep == pytest.approx(1.15 * flat)


def test_each_section_is_timed_by_its_own_road() -> None:
    section = Section(name="bay", from_fraction=0.25, to_fraction=0.75, road=GRAVEL)
    minutes = estimate_leg_minutes(90, LegKind.TRANSIT, Road(), [section], SPEEDS)
    assert minutes == pytest.approx(45 / 68 * 60 + 60)


@given(st.sampled_from(ROADS), st.floats(0, 1000), st.floats(0, 1000))
def test_minutes_add_up_along_a_road(kind: LegKind, first: float, second: float) -> None:
    parts = estimate_minutes(first, kind, GRAVEL, SPEEDS) + estimate_minutes(
        second, kind, GRAVEL, SPEEDS
    )
    assert parts == pytest.approx(estimate_minutes(first + second, kind, GRAVEL, SPEEDS))


@pytest.mark.parametrize(
    ("riding", "breaks"), [(0, 0), (120, 0), (121, 15), (240, 15), (241, 30), (600, 60)]
)
def test_breaks_follow_rule_91(riding: float, breaks: float) -> None:
    # Highway Code rule 91: at least 15 minutes after every two hours (OGL v3.0).
    assert break_minutes(riding) == breaks


def test_refusals_name_what_is_wrong() -> None:
    with pytest.raises(ValueError, match="distance_km must not be negative, got -1"):
        estimate_minutes(-1, LegKind.LOOP, Road(), SPEEDS)
    with pytest.raises(ValueError, match="must not be negative, got nan"):
        estimate_minutes(float("nan"), LegKind.LOOP, Road(), SPEEDS)
    with pytest.raises(ValueError, match="the minutes of a crossing do not follow"):
        estimate_minutes(9, LegKind.CROSSING, Road(surface="water"), SPEEDS)
