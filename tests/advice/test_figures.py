"""Figures against published factors, an independent unit library, and their own promises."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from replanner.advice.figures import SCALES, Figures, careful, scale_of
from replanner.advice.words import words_for
from replanner.units import UnitSystem

METRIC, IMPERIAL = UnitSystem.METRIC, UnitSystem.IMPERIAL


def figures(units: UnitSystem = METRIC, zone: str = "Europe/London") -> Figures:
    return Figures(words_for("en"), units, ZoneInfo(zone), date(2026, 10, 16))


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    """Return an independent oracle: the pint unit registry."""
    return pint.UnitRegistry()


@pytest.mark.parametrize(
    ("unit", "system", "theirs"),
    [
        ("m/s", METRIC, ("m/s", "km/hour")),
        ("m/s", IMPERIAL, ("m/s", "mile/hour")),
        ("degC", IMPERIAL, ("degC", "degF")),
        ("mm", IMPERIAL, ("mm", "inch")),
        ("m", IMPERIAL, ("m", "foot")),
        ("km", IMPERIAL, ("km", "mile")),
    ],
)
@pytest.mark.parametrize("value", [-12.5, 0.0, 3.3, 17.9, 120.0])
def test_factors_agree_with_pint(
    registry: pint.UnitRegistry,
    unit: str,
    system: UnitSystem,
    theirs: tuple[str, str],
    value: float,
) -> None:
    expected = registry.Quantity(value, theirs[0]).to(theirs[1]).magnitude
    scale = SCALES[system][unit]
    assert value * scale.factor + scale.offset == pytest.approx(expected, rel=1e-9, abs=1e-9)


def test_limits_named_in_published_protocols_come_back_as_their_round_numbers() -> None:
    # Maryland bridge protocol: 30 and 40 mph; Severn bridge: 40 kt = 46 mph (rounded), kept as
    # 13.4, 17.9 and 20.6 m/s.
    scale = SCALES[IMPERIAL]["m/s"]
    assert [careful(None, limit, scale).limit for limit in (13.4, 17.9, 20.6)] == [30, 40, 46]


@given(
    st.floats(-100, 400),
    st.floats(-100, 400),
    st.booleans(),
    st.sampled_from([scale for system in UnitSystem for scale in SCALES[system].values()]),
)
def test_over_is_shown_over_and_kept_is_shown_kept(
    value: float, limit: float, falling: bool, scale: object
) -> None:
    shown = careful(value, limit, scale, falling=falling)  # type: ignore[arg-type]
    assert shown.value is not None
    assert shown.limit is not None
    step = 10.0**-shown.digits
    over = value < limit if falling else value > limit
    beyond = (shown.limit - shown.value if falling else shown.value - shown.limit) / step
    assert (beyond > 0.5) == over


@given(st.floats(-100, 400), st.booleans())
def test_a_figure_alone_is_rounded_towards_the_danger(value: float, falling: bool) -> None:
    shown = careful(value, None, SCALES[METRIC]["m/s"], falling=falling).value
    assert shown is not None
    exact = value * 3.6
    assert abs(shown - exact) < 1.001
    assert shown <= exact + 1e-5 if falling else shown >= exact - 1e-5


@pytest.mark.parametrize("missing", [None, float("nan"), float("inf")])
def test_what_is_not_known_stays_so(missing: float | None) -> None:
    assert careful(missing, missing, SCALES[METRIC]["mm"])[:2] == (None, None)


def test_a_little_rain_in_inches_is_never_told_as_none() -> None:
    shown = careful(0.1, 0.1, SCALES[IMPERIAL]["mm"])  # 0.0039 in
    assert (shown.value, shown.limit) == (pytest.approx(0.004), pytest.approx(0.004))


def test_a_unit_nobody_knows_is_shown_as_it_is() -> None:
    scale = scale_of("fur{}longs", METRIC)
    assert figures().measure(2.5, 1, scale) == "2.5 furlongs"


# Clock changes of Europe/London 2026: 29 March and 25 October, 01:00 UTC (tz database).
@pytest.mark.parametrize(
    ("moment", "told"),
    [
        (datetime(2026, 10, 16, 7, 30, tzinfo=UTC), "08:30"),
        (datetime(2026, 10, 25, 0, 59, tzinfo=UTC), "Sun 25 Oct 01:59"),
        (datetime(2026, 10, 25, 1, 0, tzinfo=UTC), "Sun 25 Oct 01:00"),
        (datetime(2026, 10, 16, 23, 10, tzinfo=UTC), "Sat 00:10"),
        (datetime(2026, 10, 22, 12, 0, tzinfo=UTC), "Thu 13:00"),
        (datetime(2026, 10, 23, 12, 0, tzinfo=UTC), "Fri 23 Oct 13:00"),
        (datetime(2026, 10, 9, 12, 0, tzinfo=UTC), "Fri 9 Oct 13:00"),
        (datetime(2026, 10, 15, 22, 59, 59, tzinfo=UTC), "Thu 23:59"),
    ],
)
def test_times_are_local_with_the_weekday_or_date_of_another_day(
    moment: datetime, told: str
) -> None:
    assert figures().clock(moment) == told


def test_leaving_is_cut_off_and_arriving_rounded_up() -> None:
    moment = datetime(2026, 10, 16, 7, 30, 1, tzinfo=UTC)
    assert figures().clock(moment) == "08:30"
    assert figures().clock(moment, up=True) == "08:31"


def test_time_in_hand_is_never_overstated() -> None:
    assert figures().minutes(64.9) == "64 min"
    assert figures().minutes(-0.5) == "-1 min"


@pytest.mark.parametrize(
    ("minutes", "told"), [(0, "0 min"), (119.5, "120 min"), (120, "2 h"), (121, "3 h")]
)
def test_age_is_rounded_up(minutes: float, told: str) -> None:
    now = datetime(2026, 10, 16, 18, 0, tzinfo=UTC)
    assert figures().age(now - timedelta(minutes=minutes), now) == told


def test_what_comes_later_than_now_has_no_age() -> None:
    now = datetime(2026, 10, 16, 18, 0, tzinfo=UTC)
    assert figures().age(now + timedelta(minutes=1), now) == ""


def test_dates_and_numbers_follow_the_language() -> None:
    day = date(2026, 10, 16)
    american = Figures(words_for("en_US"), IMPERIAL, ZoneInfo("UTC"), day)
    assert american.date(day) == "Fri, Oct 16"
    assert figures().date(day) == "Fri 16 Oct"
    assert figures().number(1234.5, 1) == "1,234.5"
