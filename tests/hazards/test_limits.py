"""Limits stay in order however they are tightened."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from replanner.hazards.limits import Limit

GUST = Limit(name="gust", unit="m/s", clear=7.0, caution=13.4, avoid=17.9, no_go=20.6, source="x")
SIGHT = Limit(name="sight", unit="m", clear=5000.0, caution=1000.0, avoid=200.0, no_go=100.0, source="x")  # fmt: skip  # noqa: E501 - one line a limit
FIGURES = st.one_of(st.none(), st.floats(-50.0, 6000.0))
VALUES = np.linspace(-60.0, 6000.0, 2000)


@given(st.sampled_from([GUST, SIGHT]), st.tuples(FIGURES, FIGURES, FIGURES))
def test_tightening_never_lowers_a_level_and_keeps_the_order(
    limit: Limit, own: tuple[float | None, float | None, float | None]
) -> None:
    tight = limit.tightened(own)
    assert tight.rising == limit.rising
    levels = tight.level(VALUES)
    assert (levels >= limit.level(VALUES) - 1e-9).all()
    steps = np.diff(levels) if tight.rising else -np.diff(levels)
    assert (steps >= -1e-9).all()
    for figure, level in zip(own, (2.0, 3.0, 4.0), strict=True):
        if figure is not None:
            assert tight.level(figure) >= level - 1e-9


def test_a_shift_moves_the_steps() -> None:
    shifted = GUST.shifted(-6.0)
    assert (shifted.caution, shifted.avoid, shifted.no_go) == pytest.approx((7.4, 11.9, 14.6))
    assert shifted.level(7.4) == 2
    far = GUST.shifted(-9.0)
    assert far.level(4.4) == pytest.approx(2)
    assert far.clear < far.caution


def test_an_own_caution_below_clear_still_counts() -> None:
    assert GUST.tightened((5.0, None, None)).level(5.0) == 2
    assert SIGHT.tightened((7000.0, None, None)).level(7000.0) == 2


def test_unknown_stays_unknown() -> None:
    assert np.isnan(GUST.level(np.nan))


@pytest.mark.parametrize(
    ("level", "figure"), [(1.9, None), (2.0, 13.4), (2.99, 13.4), (3.5, 17.9), (4.0, 20.6)]
)
def test_threshold(level: float, figure: float | None) -> None:
    assert GUST.threshold(level) == figure


@given(st.sampled_from([GUST, SIGHT]), st.lists(st.floats(-60.0, 9000.0) | st.just(np.nan)))
def test_many_figures_have_the_levels_each_has_alone(limit: Limit, figures: list[float]) -> None:
    some = np.array([limit.clear, *figures])
    many = np.tile(some, 300)  # enough for the look which of them are felt
    alone = [float(limit.level(figure)) for figure in some]
    np.testing.assert_array_equal(limit.level(many), np.tile(alone, 300))
    calm = np.full(300, limit.clear)
    np.testing.assert_array_equal(limit.level(calm), np.zeros(300))
    calm[-1] = np.nan
    assert np.isnan(limit.level(calm)[-1])
