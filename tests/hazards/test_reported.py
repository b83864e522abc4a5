"""What riders have reported, hour by hour: only stricter, but for a road that was seen dry."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.hazards.combine import section_severity, stricter_for
from replanner.hazards.limits import Limits
from replanner.hazards.model import AVOID, CAUTION, NO_GO, Hazard, Kind, Party, Stretch
from replanner.hazards.party import party_of
from replanner.hazards.register import HAZARDS, hazard_named
from replanner.trip.model import Exposure, Rider
from replanner.trip.underway import Report, ReportKind
from tests.hazards.conftest import a_stretch, fair
from tests.hazards.test_every_hazard import WET_TRACK, random_weather, rng_of

START = datetime(2027, 4, 2, tzinfo=UTC)  # of the conditions of `fair`
HOURS = 24


def seen(kind: ReportKind, hour: float, hours: float, level: int = 2) -> Report:
    since = START + timedelta(hours=hour)
    return Report(
        leg="ridge", kind=kind, level=level, since=since, until=since + timedelta(hours=hours)
    )


def level(name: str, stretch: Stretch, limits: Limits, **weather: object) -> np.ndarray:
    reading = hazard_named(name).assess(stretch, fair(HOURS, **weather), Party(), limits)
    assert reading is not None
    return reading.level


def rain_until(hour: int, amount: float = 2.0) -> np.ndarray:
    return np.where(np.arange(HOURS) < hour, amount, 0.0)


def test_a_report_counts_between_its_instants_and_no_longer(limits: Limits) -> None:
    stretch = a_stretch(reports=(seen(ReportKind.FOG, 10.0, 2.0, 3),))
    found = level("reported_fog", stretch, limits)
    np.testing.assert_array_equal(found[10:13], AVOID)
    assert (found[:10] == 0).all()
    assert (found[13:] == 0).all()


def test_of_two_reports_the_worse_counts(limits: Limits) -> None:
    stretch = a_stretch(
        reports=(seen(ReportKind.MUD, 8.0, 6.0, 2), seen(ReportKind.MUD, 10.0, 2.0, 4))
    )
    found = level("reported_mud", stretch, limits)
    assert (found[9], found[11], found[14]) == (CAUTION, NO_GO, CAUTION)


def test_a_track_seen_wet_is_avoid(limits: Limits) -> None:
    """Common practice, no source: a twin track is avoid within six hours of rain."""
    reports = (seen(ReportKind.WET, 10.0, 2.0),)
    assert level("reported_wet", a_stretch(reports=reports), limits)[10] == CAUTION
    track = replace(WET_TRACK, reports=reports)
    assert level("reported_wet", track, limits)[10] == AVOID


def test_wet_steep_and_narrow_is_no_go_where_it_was_seen_wet(limits: Limits) -> None:
    """Common practice, no source: a steep narrow road in any wet."""
    assert (level("wet_steep", WET_TRACK, limits)[12:] == 0).all()
    found = level("wet_steep", replace(WET_TRACK, reports=(seen(ReportKind.WET, 14, 2.0),)), limits)
    assert (found[14:17] == NO_GO).all()
    assert (found[17:] == 0).all()


def test_a_road_seen_dry_is_dry_while_the_report_counts(limits: Limits) -> None:
    shade = {"precipitation_amount": rain_until(10), "air_temperature": 5.0}
    wet = level("wet_road", a_stretch(trees=True), limits, **shade)
    assert (wet[10:13] >= CAUTION).all()
    dry = a_stretch(trees=True, reports=(seen(ReportKind.DRY, 10.2, 2.0),))
    found = level("wet_road", dry, limits, **shade)
    assert found[8] == wet[8]
    assert (found[9:13] < CAUTION).all()  # a passage is judged by the hour before it as well
    np.testing.assert_array_equal(found[13:], wet[13:])


def test_rain_after_it_was_seen_dry_wets_it_again(limits: Limits) -> None:
    rain = rain_until(10)
    rain[12] = 1.0
    found = level(
        "wet_road", a_stretch(reports=(seen(ReportKind.DRY, 10.5, 6.0),)), limits,
        precipitation_amount=rain,
    )  # fmt: skip
    assert found[12] >= CAUTION


@pytest.mark.parametrize("name", ["wet_track", "wet_steep"])
def test_no_go_stays_no_go_however_dry_somebody_saw_it(limits: Limits, name: str) -> None:
    """Six millimetres within six hours: no-go for a track (common practice, no source)."""
    soaked = {"precipitation_amount": rain_until(10, 6.0)}
    plain = level(name, WET_TRACK, limits, **soaked)
    dry = replace(WET_TRACK, reports=(seen(ReportKind.DRY, 10.5, 6.0),))
    found = level(name, dry, limits, **soaked)
    no_go = plain == NO_GO
    assert no_go[11]
    np.testing.assert_array_equal(found[no_go], NO_GO)


@settings(max_examples=25, deadline=None)
@given(
    st.integers(0, 2**32 - 1),
    st.lists(
        st.builds(
            seen,
            st.sampled_from([kind for kind in ReportKind if kind is not ReportKind.DRY]),
            st.floats(0.0, 50.0),
            st.floats(0.5, 12.0),
            st.integers(2, 4),
        ),
        max_size=4,
    ),
)
def test_a_report_is_never_looser_than_none(
    limits: Limits, seed: int, reports: list[Report]
) -> None:
    weather = random_weather(rng_of(seed))
    for home in (a_stretch(), WET_TRACK):
        for hazard in HAZARDS:
            plain = hazard.assess(home, weather, Party(), limits)
            told = hazard.assess(replace(home, reports=tuple(reports)), weather, Party(), limits)
            if plain is not None:
                assert told is not None
                known = ~np.isnan(plain.level)
                assert (told.level[known] >= plain.level[known]).all(), hazard.name


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(0.0, 50.0), st.floats(0.5, 12.0))
def test_seen_dry_softens_wetness_only_and_nothing_that_is_no_go(
    limits: Limits, seed: int, hour: float, hours: float
) -> None:
    weather = random_weather(rng_of(seed))
    dry = (seen(ReportKind.DRY, hour, hours),)
    for home in (a_stretch(), WET_TRACK):
        for hazard in HAZARDS:
            plain = hazard.assess(home, weather, Party(), limits)
            told = hazard.assess(replace(home, reports=dry), weather, Party(), limits)
            if plain is None or told is None:
                assert plain is told
                continue
            if hazard.name not in ("wet_road", "wet_track"):
                np.testing.assert_array_equal(told.level, plain.level)
            known = ~np.isnan(plain.level)
            assert (told.level[known] <= plain.level[known]).all()
            assert (told.level[plain.level >= NO_GO] >= NO_GO).all()


@pytest.mark.parametrize(("classes", "expected"), [(0, 2.0), (1, 3.0), (2, 4.0), (3, 4.0)])
def test_a_stricter_day_raises_a_caution_by_as_many_classes(
    limits: Limits, classes: int, expected: float
) -> None:
    party = party_of([Rider(id="one"), Rider(id="two")], limits, stricter=classes)
    gust = hazard_named("gust")
    assert stricter_for(party, gust, np.array([2.0]))[0] == expected
    assert stricter_for(party, gust, np.array([0.9]))[0] == 0.9  # what is not there stays away


@pytest.mark.parametrize("classes", [0, 1, 2, 5])
def test_the_unknown_is_never_made_no_go(limits: Limits, classes: int) -> None:
    party = party_of([Rider(id="one"), Rider(id="two")], limits, stricter=classes)
    blind = section_severity(
        np.zeros((1, 1)), np.ones((1, 1), np.bool_), [Kind.WIND],
        exposure=Exposure.OPEN, party=party,
    )  # fmt: skip
    assert blind[0] == (CAUTION if classes == 0 else AVOID)
    nan = stricter_for(party, Hazard(*hazard_named("gust")), np.array([np.nan]))
    assert np.isnan(nan[0])


def test_nothing_loosens_by_being_stricter(limits: Limits) -> None:
    with pytest.raises(ValueError, match="stricter"):
        party_of([Rider(id="one")], limits, stricter=-1)
