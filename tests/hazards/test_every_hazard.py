"""What holds for every hazard of the register, now and for the ones added later."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.hazards.limits import Limits
from replanner.hazards.model import CAUTION, Conditions, Hazard, Party, Stretch
from replanner.hazards.register import HAZARDS, hazard_named
from replanner.trip.model import Exposure, LegKind, LooseChippings, Way
from replanner.trip.underway import Report, ReportKind
from tests.hazards.conftest import a_stretch, fair

HOURS = 60
SEEDS = st.integers(0, 2**32 - 1)

# Where each hazard is at home. INVENTED.
WET_TRACK = a_stretch(surface="grass", steepest_grade_percent=17.0, trees=True, width_m=2.0)
AT_HOME = {
    "wet_track": WET_TRACK,
    "wet_steep": WET_TRACK,
    "gravel": a_stretch(surface="gravel"),
    "chippings": a_stretch(
        chippings=LooseChippings(
            laid=np.datetime64("2027-03-27").item(),
            assumed_until=np.datetime64("2027-04-10").item(),
        )
    ),
    "dusk_animals": a_stretch(animals=True),
    "stopped_crossing": a_stretch(
        surface="water", leg_kind=LegKind.CROSSING, ferry_gust_limit=20.0
    ),
    "darkness": a_stretch(exposure=Exposure.EXPOSED),
    **{
        f"reported_{kind.value}": a_stretch(
            reports=(
                Report(
                    leg="ridge",
                    kind=kind,
                    level=2,
                    since=datetime(2027, 4, 1, tzinfo=UTC),
                    until=datetime(2027, 5, 1, tzinfo=UTC),
                ),
            )
        )
        for kind in ReportKind
    },
}
# What lies there in the best of weather: loose chippings (common practice, no source), and what
# riders have just met.
LIES_THERE = {"chippings"} | {hazard.name for hazard in HAZARDS if "reported" in hazard.name}

# Columns that make a hazard worse when moved that way, everything else being equal.
WORSE = [
    ("gust", "wind_speed_of_gust", +1),
    ("gust", "wind_speed", +1),
    ("crosswind", "wind_speed_of_gust", +1),
    ("mean_wind", "wind_speed", +1),
    ("gust_spread", "wind_speed_of_gust", +1),
    ("rain", "precipitation_amount", +1),
    ("wet_track", "precipitation_amount", +1),
    ("wet_track", "dew_point_temperature", +1),
    ("wet_steep", "precipitation_amount", +1),
    ("wet_steep", "air_temperature", -1),
    ("gravel", "precipitation_amount", +1),
    ("chippings", "precipitation_amount", +1),
    ("frost", "air_temperature", -1),
    ("frost", "precipitation_amount", +1),
    ("wind_chill", "air_temperature", -1),
    ("heat", "air_temperature", +1),
    ("heat", "relative_humidity", +1),
    ("visibility", "visibility_in_air", -1),
    ("cloud_base", "cloud_base_altitude", -1),
    ("thunder", "precipitation_probability", +1),
    ("thunder", "atmosphere_convective_available_potential_energy", +1),
    ("stopped_crossing", "wind_speed_of_gust", +1),
]


def random_weather(rng: np.random.Generator, shape: tuple[int, ...] = (HOURS,)) -> Conditions:
    """Return INVENTED weather of all sorts, rain in showers, the light of any hour."""
    air, mean = rng.uniform(-8.0, 42.0, shape), rng.uniform(0.0, 25.0, shape)
    columns = {
        "air_temperature": air,
        "dew_point_temperature": air - rng.uniform(0.0, 15.0, shape),
        "relative_humidity": rng.uniform(5.0, 100.0, shape),
        "wind_speed": mean,
        "wind_from_direction": rng.uniform(0.0, 360.0, shape),
        "wind_speed_of_gust": mean + rng.uniform(0.0, 15.0, shape),
        "precipitation_amount": rng.uniform(0.0, 8.0, shape) * (rng.uniform(size=shape) < 0.1),
        "precipitation_probability": rng.uniform(0.0, 100.0, shape),
        "visibility_in_air": 10 ** rng.uniform(1.5, 4.5, shape),
        "cloud_area_fraction": rng.uniform(0.0, 100.0, shape),
        "weather_code": rng.choice([0.0, 3.0, 45.0, 61.0, 66.0, 75.0, 95.0], shape),
        "atmosphere_convective_available_potential_energy": rng.uniform(0.0, 4000.0, shape),
        "surface_downwelling_shortwave_flux_in_air": rng.uniform(0.0, 900.0, shape),
        "cloud_base_altitude": rng.uniform(0.0, 3000.0, shape),
    }
    dusk = rng.uniform(-300.0, 500.0, HOURS)
    light = {
        "sun_elevation": rng.uniform(-5.0, 20.0, HOURS),
        "sun_azimuth": rng.uniform(0.0, 360.0, HOURS),
        "minutes_to_dusk": dusk,
        "minutes_to_sunset": dusk - 30.0,
    }
    return replace(fair(HOURS), columns=columns, **light)


def home_of(hazard: Hazard) -> Stretch:
    return AT_HOME.get(hazard.name, a_stretch())


def level(hazard: Hazard, conditions: Conditions, party: Party, limits: Limits) -> np.ndarray:
    reading = hazard.assess(home_of(hazard), conditions, party, limits)
    assert reading is not None
    assert reading.value.shape == reading.level.shape
    return reading.everywhere(conditions.time.size).level


def rng_of(seed: int) -> np.random.Generator:
    return np.random.default_rng(seed)


@pytest.mark.parametrize("hazard", HAZARDS, ids=lambda hazard: hazard.name)
def test_each_has_limits_of_its_name_and_a_home(hazard: Hazard, limits: Limits) -> None:
    assert hazard.name in limits.limits
    found = level(hazard, random_weather(rng_of(1)), Party(), limits)
    assert found.shape == (HOURS,)
    known = found[~np.isnan(found)]
    assert ((known >= 0) & (known <= 4)).all()


@pytest.mark.parametrize("hazard", HAZARDS, ids=lambda hazard: hazard.name)
def test_fair_weather_at_noon_is_go(hazard: Hazard, limits: Limits) -> None:
    found = level(hazard, fair(HOURS), Party(), limits)[48:]
    assert (found == CAUTION).all() if hazard.name in LIES_THERE else (found < CAUTION).all()


@pytest.mark.parametrize("hazard", HAZARDS, ids=lambda hazard: hazard.name)
def test_nothing_known_is_never_go(hazard: Hazard, limits: Limits) -> None:
    nothing = np.full(HOURS, np.nan)
    blind = replace(
        fair(HOURS), columns={}, sun_elevation=nothing, sun_azimuth=nothing,
        minutes_to_dusk=nothing, minutes_to_sunset=nothing,
    )  # fmt: skip
    if hazard.name == "low_sun":  # where the sun stands is never missing, the cloud may be
        blind = replace(blind, sun_elevation=np.full(HOURS, 5.0), sun_azimuth=np.full(HOURS, 90.0))
    found = level(hazard, blind, Party(), limits)
    assert (np.isnan(found) | (found >= CAUTION)).all()


@settings(max_examples=15, deadline=None)
@given(SEEDS, st.data())
def test_hiding_data_never_turns_a_caution_into_go(
    limits: Limits, seed: int, data: st.DataObject
) -> None:
    weather = random_weather(rng_of(seed))
    # a weather code only ever adds to what the figures say, so its absence is no gap
    figures = sorted(set(weather.columns) - {"weather_code"})
    hidden = data.draw(st.sets(st.sampled_from(figures), min_size=1))
    holes = rng_of(seed + 1).uniform(size=HOURS) < 0.5
    columns = {
        name: np.where(holes, np.nan, values) if name in hidden else values
        for name, values in weather.columns.items()
    }
    for hazard in HAZARDS:
        full = level(hazard, weather, Party(), limits)
        partly = level(hazard, replace(weather, columns=columns), Party(), limits)
        says_go = partly < CAUTION
        assert (full[says_go & ~np.isnan(full)] < CAUTION).all(), (hazard.name, sorted(hidden))


@settings(max_examples=15, deadline=None)
@given(SEEDS, st.floats(0.0, 1.0))
@pytest.mark.parametrize(("name", "column", "sign"), WORSE)
def test_worse_weather_never_lowers_a_level(
    limits: Limits, name: str, column: str, sign: int, seed: int, by: float
) -> None:
    weather = random_weather(rng_of(seed))
    values = weather.columns[column]
    if column == "precipitation_amount":
        worse = values * (1.0 + by)  # more in the hours it rains
    else:
        worse = values + sign * by * np.abs(values)
    before = level(hazard_named(name), weather, Party(), limits)
    columns = {**weather.columns, column: worse}
    after = level(hazard_named(name), replace(weather, columns=columns), Party(), limits)
    both = ~np.isnan(before) & ~np.isnan(after)
    assert (after[both] >= before[both] - 1e-9).all()


@settings(max_examples=15, deadline=None)
@given(SEEDS, st.floats(-6.0, 0.0), st.floats(1.0, 30.0))
def test_a_stricter_party_never_gets_a_lower_level(
    limits: Limits, seed: int, shift: float, own: float
) -> None:
    weather = random_weather(rng_of(seed))
    own_limits = {"gust": (own, None, None), "visibility": (None, own * 100, None)}
    strict = Party(wind_shift=shift, own_limits=own_limits, pillion=True, newer_rider=True)
    for hazard in HAZARDS:
        plain = level(hazard, weather, Party(), limits)
        stricter = level(hazard, weather, strict, limits)
        both = ~np.isnan(plain) & ~np.isnan(stricter)
        assert (stricter[both] >= plain[both] - 1e-9).all(), hazard.name


@pytest.mark.parametrize("hazard", HAZARDS, ids=lambda hazard: hazard.name)
def test_members_pass_through(hazard: Hazard, limits: Limits) -> None:
    weather = random_weather(rng_of(2), (3, HOURS))
    together = level(hazard, weather, Party(), limits)
    for member in range(3):
        alone = replace(weather, columns={n: v[member] for n, v in weather.columns.items()})
        np.testing.assert_array_equal(
            np.broadcast_to(together, (3, HOURS))[member], level(hazard, alone, Party(), limits)
        )


@pytest.mark.parametrize("hazard", HAZARDS, ids=lambda hazard: hazard.name)
def test_turning_round_changes_nothing_but_the_sun(hazard: Hazard, limits: Limits) -> None:
    weather, home = random_weather(rng_of(3)), home_of(hazard)
    if hazard.name == "low_sun":  # ahead one way only, unless it stands where both turn alike
        weather = replace(weather, sun_azimuth=np.full(HOURS, 0.0))
    turned = replace(home, headings_deg=(270.0,))
    out = hazard.assess(home, weather, Party(), limits)
    back = hazard.assess(turned, weather, Party(), limits)
    assert out is not None
    assert back is not None
    np.testing.assert_allclose(out.level, back.level, atol=1e-9)


@pytest.mark.parametrize("hazard", HAZARDS, ids=lambda hazard: hazard.name)
def test_nobody_rides_at_a_stop(hazard: Hazard, limits: Limits) -> None:
    stop = replace(a_stretch(animals=True), leg_kind=LegKind.STOP)
    assert hazard.assess(stop, fair(HOURS), Party(), limits) is None


@pytest.mark.parametrize("hazard", HAZARDS, ids=lambda hazard: hazard.name)
def test_only_those_said_to_ask_for_the_headings_do(hazard: Hazard, limits: Limits) -> None:
    weather, home = random_weather(rng_of(4)), home_of(hazard)
    unknown = replace(home, headings_deg=(), way=Way.REVERSE)
    shown, hidden = (
        level(hazard, weather, Party(), limits),
        hazard.assess(unknown, weather, Party(), limits),
    )
    assert hidden is not None
    assert np.array_equal(shown, hidden.level, equal_nan=True) != hazard.by_heading
