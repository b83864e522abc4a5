"""Chances told against rain that came: real members, real measurements.

Counted from the data set RainIbk of the R package crch: sums of rain of eleven reforecast members
5 to 8 days ahead and what was then measured at Innsbruck, 2000 to 2013 (tests/data/README.md). The
first half is fitted, the second one judged.
"""

from collections.abc import Callable
from datetime import timedelta
from functools import cache
from math import exp, log
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import minimize

from replanner.advice.lead import FITTED_LEAD, TRUE_PART, calibrated, chance

THRESHOLDS_MM = (1.0, 3.0, 5.0, 10.0)
MEMBERS = 11
COUNTS = Path(__file__).parents[1] / "data/rain_ibk_counts.csv"
Floats = NDArray[np.float64]


@cache
def counted() -> NDArray[np.void]:
    """Return how often it was above a threshold by how many members were, from tests/data."""
    table = np.genfromtxt(COUNTS, delimiter=",", names=True, dtype=None, encoding="ascii")
    return np.asarray(table)


def halves(threshold: float) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
    """Return members above a threshold and whether it came above it, for both halves."""
    found = []
    for half in ("first", "second"):
        rows = counted()[(counted()["threshold_mm"] == threshold) & (counted()["half"] == half)]
        count = np.repeat(rows["members_above"], rows["forecasts"]).astype(np.float64)
        pairs = zip(rows["above"], rows["forecasts"], strict=True)
        came = [np.arange(number) < above for above, number in pairs]
        found.append((count, np.concatenate(came).astype(np.float64)))
    return found[0], found[1]


def told(count: Floats, true_part: float, bias: float) -> Floats:
    by_count = [calibrated(n / MEMBERS, MEMBERS, true_part, bias) for n in range(MEMBERS + 1)]
    return np.array(by_count)[count.astype(np.int64)]


def fitted(count: Floats, came: Floats) -> tuple[float, float]:
    """Return the true part and the bias that make what came most likely."""

    def unlikelihood(at: Floats) -> float:
        p = told(count, float(at[0]), float(at[1]))
        return float(-np.mean(came * np.log(p) + (1.0 - came) * np.log1p(-p)))

    best = minimize(unlikelihood, np.array([1.0, 0.0]), method="Nelder-Mead")
    return float(best.x[0]), float(best.x[1])


def brier(p: Floats, came: Floats) -> float:
    return float(np.mean((p - came) ** 2))


def unreliability(p: Floats, came: Floats) -> float:
    """Return the reliability part of the Brier score: 0 where "8 in 10" comes 8 times in 10."""
    parts = np.minimum((p * 10).astype(np.int64), 9)
    groups = [parts == part for part in range(10) if np.any(parts == part)]
    return float(sum(g.mean() * (p[g].mean() - came[g].mean()) ** 2 for g in groups))


def test_raw_shares_are_worse_than_climate() -> None:
    """Why they are not told: at 10 mm 0.26 against 0.19, both of the held-out half."""
    for threshold in THRESHOLDS_MM:
        (_, before), (count, came) = halves(threshold)
        assert brier(count / MEMBERS, came) > brier(np.full(came.size, before.mean()), came)


def test_calibrated_they_beat_climate_and_come_as_often_as_told(
    record_property: Callable[[str, object], None],
) -> None:
    for threshold in THRESHOLDS_MM:
        first, (count, came) = halves(threshold)
        true_part, bias = fitted(*first)
        p, raw = told(count, true_part, bias), count / MEMBERS
        climate = brier(np.full(came.size, first[1].mean()), came)
        record_property(
            f"over {threshold:g} mm",
            f"Brier raw {brier(raw, came):.3f}, calibrated {brier(p, came):.3f}, climate "
            f"{climate:.3f}; reliability {unreliability(raw, came):.4f} to "
            f"{unreliability(p, came):.4f}",
        )
        assert brier(p, came) < 0.9 * climate
        assert unreliability(p, came) < 0.1 * unreliability(raw, came)


def test_the_part_in_use_is_the_one_fitted() -> None:
    parts = [fitted(*halves(threshold)[0])[0] for threshold in THRESHOLDS_MM]
    assert float(np.mean(parts)) == pytest.approx(TRUE_PART, abs=0.06)


def test_without_a_known_bias_it_is_still_nearer_to_what_comes() -> None:
    """As it is told of a plan: nobody has compared a rider's own roads with what came there."""
    for threshold in THRESHOLDS_MM:
        _, (count, came) = halves(threshold)
        p, raw = told(count, TRUE_PART, 0.0), count / MEMBERS
        assert brier(p, came) < brier(raw, came)
        assert unreliability(p, came) < unreliability(raw, came)


def test_the_scale_of_log_odds() -> None:
    """Worked by hand: 8 of 11 with half a member each way is 8.5 to 3.5; half of its log odds."""
    assert calibrated(8 / 11, 11, 1.0) == pytest.approx(8.5 / 12.0)
    assert calibrated(8 / 11, 11, 0.5) == pytest.approx(1.0 / (1.0 + exp(-0.5 * log(8.5 / 3.5))))
    assert calibrated(0.5, 10, 0.3) == pytest.approx(0.5)


@pytest.mark.parametrize("share", [0.0, 0.3, 0.5, 0.8, 1.0])
def test_further_ahead_never_surer_and_never_certain(share: float) -> None:
    leads = [timedelta(hours=6 * n) for n in range(29)]
    chances = [chance(share, MEMBERS, lead) for lead in leads]
    sure = [abs(one - 0.5) for one in chances if one is not None]
    assert all(0.0 < one < 1.0 for one in chances if one is not None)
    assert len(sure) == len(leads)
    if share >= 0.5:
        assert sure == sorted(sure, reverse=True)
    assert chance(share, MEMBERS, timedelta(days=8)) is None
    assert timedelta(days=7) > FITTED_LEAD
