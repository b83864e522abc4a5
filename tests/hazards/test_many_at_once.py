"""What is worked out once for many starts, members and hours, beside each of them alone."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.geodesy import Point
from replanner.hazards.assess import assess_day
from replanner.hazards.by_hour import PassageHours
from replanner.hazards.by_minute import (
    OF_THE_MINUTE,
    minute_levels,
    minute_says,
    minutes_of,
)
from replanner.hazards.combine import added_up, two_worst
from replanner.hazards.judging import Judging
from replanner.hazards.limits import Limits
from replanner.hazards.lit import Light, LitConditions
from replanner.hazards.model import Hazard, Party, Resolution
from replanner.hazards.passage import worst_around
from replanner.hazards.passages import entered
from replanner.hazards.register import HAZARDS
from replanner.trip.model import Exposure
from replanner.weather.daylight import minutes_to_dusk, minutes_to_sunset, sun_position
from replanner.weather.hourly import PointHours
from tests.benchmarks import table_tours
from tests.hazards.test_every_hazard import HOURS, home_of, random_weather, rng_of

SEEDS = st.integers(0, 2**32 - 1)
FIRST = np.datetime64("2027-04-01T11:00:00", "s")
OF_THE_HOUR = [hazard for hazard in HAZARDS if hazard.resolution is Resolution.HOUR]


def judging_of(limits: Limits) -> Judging:
    """Return who takes every level as it is."""
    return Judging(
        party=Party(),
        limits=limits,
        exposure=Exposure.OPEN,
        alone_step=0.0,
        added={hazard.name: 0.0 for hazard in HAZARDS},
    )


@settings(max_examples=6, deadline=None)
@given(SEEDS, st.integers(2, 4), st.floats(0.0, 0.2))
def test_each_member_is_as_if_alone(
    limits: Limits, seed: int, members: int, missing: float
) -> None:
    rng = rng_of(seed)
    tour = table_tours.tour_of(seed, legs=10)
    tables = table_tours.hours_of(tour, seed, members)
    for table in tables.values():
        for values in table.columns.values():
            values[rng.uniform(size=values.shape) < missing] = np.nan
    starts = np.sort(rng.choice(table_tours.starts_of(2), 12, replace=False))
    party = Party(alone=True, newer_rider=True)
    together = assess_day(tour, tour.days[0], starts, tables, party, limits)
    for member in range(members):
        hours = {
            point: PointHours(table.time, {n: v[member] for n, v in table.columns.items()})
            for point, table in tables.items()
        }
        alone = assess_day(tour, tour.days[0], starts, hours, party, limits)
        for key, found in together.items():
            assert set(found.unknown) <= set(alone[key].unknown)
            for name in ("piece_minutes", "piece_severity", "halt_fits"):
                np.testing.assert_array_equal(
                    getattr(found, name)[:, member], getattr(alone[key], name), err_msg=name
                )
            np.testing.assert_array_equal(found.severity[member], alone[key].severity)
            if member == 0:
                assert found.findings == alone[key].findings


@settings(deadline=None)
@given(
    SEEDS,
    st.lists(st.tuples(st.integers(1, 15), st.integers(0, 4)), min_size=1, max_size=8),
    st.booleans(),
)
def test_the_worst_hours_of_all_passages_against_each_alone(
    seed: int, passages: list[tuple[int, int]], of_members: bool
) -> None:
    rng = rng_of(seed)
    shape = (3, 18) if of_members else (18,)
    level = np.where(rng.uniform(size=shape) < 0.2, np.nan, rng.uniform(0.0, 4.0, shape))
    first = np.array([begin for begin, _ in passages])
    last = first + np.array([lasts for _, lasts in passages])
    hours = PassageHours(first, last)
    rows, known = hours.hold_throughout(~np.isnan(level), (3,))
    assert rows == (3 if of_members else 1)
    shown = hours.outside(shape[:-1], fill=0.0)
    given_hours = hours.that_count(np.nan_to_num(level))
    shown[..., : given_hours.shape[-1]] = given_hours
    worst = hours.worst(shown).ravel()
    alone = worst_around(np.atleast_2d(level)[None], 60.0 * first, 60.0 * last)
    for row in range(rows):
        place = hours.places(rows) + row * hours.count
        np.testing.assert_array_equal(worst[place], alone.level[0, row])
        np.testing.assert_array_equal(~known[place], alone.unknown[0, row])


@given(st.lists(st.lists(st.floats(0.0, 4.0), min_size=4, max_size=4), min_size=1, max_size=5))
def test_two_worst_kinds_are_enough_to_add_up(by_kind: list[list[float]]) -> None:
    """Two cautions of different kinds are avoid, two avoids no-go (common practice, no source)."""
    found = added_up(*two_worst([np.array(kind) for kind in by_kind]))
    for at, severity in enumerate(found):
        responses = [kind[at] for kind in by_kind]
        expected = max(responses)
        for step, raised in ((2.0, 3.0), (3.0, 4.0)):
            if sum(response >= step for response in responses) > 1:
                expected = max(expected, raised)
        assert severity == expected


@given(SEEDS, st.integers(1, 4), st.integers(1, 9), st.integers(1, 5))
def test_passages_told_apart_are_those_that_differ(
    seed: int, members: int, starts: int, ways: int
) -> None:
    rng = rng_of(seed)
    enter = np.sort(rng.uniform(0.0, 900.0, starts))
    passages = entered(enter, members)
    told = np.zeros((members, starts, 0), np.int64)
    for _ in range(2):
        by = rng.integers(0, ways, (members, starts))
        passages, which = passages.told_apart(by, ways)
        np.testing.assert_array_equal(which[passages.number], by)
        told = np.concatenate([told, by[..., None]], axis=-1)
    np.testing.assert_array_equal(passages.enter[passages.number], np.tile(enter, (members, 1)))
    differ = {(start, *told[m, start]) for m in range(members) for start in range(starts)}
    assert passages.enter.size == len(differ) == len(set(passages.number.ravel().tolist()))


@settings(max_examples=15, deadline=None)
@given(SEEDS, st.lists(st.tuples(st.floats(0.0, 600.0), st.floats(0.0, 90.0)), min_size=1))
@pytest.mark.parametrize("hazard", OF_THE_MINUTE, ids=lambda hazard: hazard.name)
def test_a_passage_has_the_worst_of_its_minutes(
    limits: Limits, hazard: Hazard, seed: int, passages: list[tuple[float, float]]
) -> None:
    rng = rng_of(seed)
    begin, count = int(rng.integers(0, 48)), 700
    times = FIRST + np.timedelta64(1, "h") * begin + np.timedelta64(1, "m") * np.arange(count)
    cloud = np.where(
        rng.uniform(size=(3, count)) < 0.1, np.nan, rng.uniform(0.0, 100.0, (3, count))
    )
    home = home_of(hazard)
    point = Point(home.latitude, home.longitude, 0.0)
    minutes = LitConditions(Light(point, times), {"cloud_area_fraction": cloud})
    enter = np.array([at for at, _ in passages])
    touched = minutes_of(enter, enter + np.array([lasts for _, lasts in passages]))
    levels = minute_levels([hazard], home, minutes, 0, (3,), Party(), limits)
    found = list(minute_says(judging_of(limits), levels, touched, np.zeros(enter.size, np.bool_)))
    reading = hazard.assess(home, minutes, Party(), limits)
    assert reading is not None
    every = np.broadcast_to(reading.everywhere(count).level, (3, count))
    for passage, (first, last) in enumerate(zip(*touched, strict=True)):
        assert first <= enter[passage] + 1e-5
        here = every[:, first : last + 1]
        for member in range(3):
            said = [(each.at(each.response, np.array([passage]), np.array([member]))[0],
                     each.at(each.unknown, np.array([passage]), np.array([member]))[0])
                    for each in found] or [(0.0, False)]  # fmt: skip
            assert said == [(np.nan_to_num(here[member]).max(), np.isnan(here[member]).any())]


@given(st.floats(0.0, 1000.0), st.floats(0.0, 200.0))
def test_a_passage_touches_each_minute_from_its_first_to_its_last(
    enter: float, lasts: float
) -> None:
    first, last = minutes_of(np.array([enter]), np.array([enter + lasts]))
    assert first[0] <= enter + 1e-5
    assert last[0] >= enter + lasts - 1e-5
    assert last[0] - first[0] <= lasts + 2.0


def test_a_passage_that_ends_on_the_minute_does_not_reach_the_next() -> None:
    enter, leave = np.array([10.0, 10.3, 11.0 - 1e-9]), np.array([40.0 + 1e-9, 40.3, 11.0])
    first, last = minutes_of(enter, leave)
    assert first.tolist() == [10, 10, 11]
    assert last.tolist() == [40, 41, 11]


@pytest.mark.parametrize("hazard", OF_THE_HOUR, ids=lambda hazard: hazard.name)
def test_hours_before_the_first_are_remembered(hazard: Hazard, limits: Limits) -> None:
    """What an hour is like hangs not on whether the hours before it were asked about as well."""
    weather = random_weather(rng_of(5), (2, HOURS))
    memory = 50
    later = replace(
        weather,
        time=weather.time[memory:],
        memory=memory,
        **{
            name: getattr(weather, name)[memory:]
            for name in ("sun_elevation", "sun_azimuth", "minutes_to_dusk", "minutes_to_sunset")
        },
    )
    whole = hazard.assess(home_of(hazard), weather, Party(), limits)
    part = hazard.assess(home_of(hazard), later, Party(), limits)
    assert whole is not None
    assert part is not None
    assert part.level.shape[-1] == HOURS - memory
    np.testing.assert_array_equal(part.level, whole.level[..., memory:])
    np.testing.assert_array_equal(part.value, whole.value[..., memory:])


def test_some_instants_have_the_light_of_all() -> None:
    point = Point(-46.0, 168.0, 0.0)
    times = np.datetime64("2027-04-01T17:00:00", "s") + 600 * np.arange(100)
    rain = np.arange(100.0)
    all_of_them = LitConditions(Light(point, times), {"rain": rain})
    chosen = np.array([7, 3, 90])
    some = all_of_them.only(chosen).only(np.array([2, 0]))
    picked = chosen[[2, 0]]
    np.testing.assert_array_equal(some.time, times[picked])
    np.testing.assert_array_equal(some.column("rain"), rain[picked])
    sun = sun_position(point, times)
    for conditions, at in ((some, picked), (all_of_them, slice(None))):
        np.testing.assert_allclose(conditions.sun_elevation, sun.elevation[at], rtol=1e-13)
        np.testing.assert_allclose(conditions.sun_azimuth, sun.azimuth[at], rtol=1e-13)
        dusk, sunset = minutes_to_dusk(point, times), minutes_to_sunset(point, times)
        np.testing.assert_array_equal(conditions.minutes_to_dusk, dusk[at])
        np.testing.assert_array_equal(conditions.minutes_to_sunset, sunset[at])
    high, low = all_of_them.sun_may_stand(-90.0, 90.0), all_of_them.sun_may_stand(80.0, 90.0)
    assert high.all()
    assert not low.any()
