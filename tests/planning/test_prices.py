"""What is wanted in hand before a leg is no-go: common practice, no source. INVENTED."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from replanner.planning.prices import hazard_price_by_member, minutes_before
from replanner.planning.rules import Rules
from replanner.trip.model import Way
from tests.planning.invented import a_leg, a_tour, assess


@given(st.lists(st.booleans(), min_size=1, max_size=12))
def test_minutes_before_the_next_start_that_is_forbidden(flags: list[bool]) -> None:
    found = minutes_before(np.array([flags, flags]), 5)
    for start in range(len(flags)):
        later = [at for at in range(start + 1, len(flags)) if flags[at]]
        wanted = 5.0 * (later[0] - start - 1) if later else np.inf
        assert list(found[:, start]) == [wanted, wanted]


def test_a_member_soon_no_go_costs_what_is_lacking_until_then() -> None:
    """Of twenty minutes wanted; no-go itself costs all of them, as worse never costs less."""
    tour = a_tour([a_leg("one")])
    starts = np.datetime64("2027-04-02T06:00", "s") + np.arange(8) * np.timedelta64(300, "s")
    assessed = assess(tour, tour.legs["one"], Way.FORWARD, starts, 0.0)
    shape = (assessed.piece_severity.shape[0], 2, starts.size)
    severity = np.zeros(shape)
    severity[:, 1, 6:] = 4.0
    members = replace(
        assessed,
        piece_severity=severity,
        severity=severity.max(axis=0),
        piece_minutes=np.full(shape, 60.0 / shape[0]),
    )
    rules = Rules()
    calm, gale = hazard_price_by_member(members, np.zeros((shape[0], starts.size), bool), rules)
    assert (calm == 0.0).all()
    assert list(gale[:6]) == [0.0, 0.0, 5.0, 10.0, 15.0, 20.0]
    assert gale[6:] == pytest.approx(60.0 * rules.level_prices[-1] + 20.0)


@given(st.integers(0, 2**32 - 1), st.integers(0, 7), st.sampled_from([1.0, 3.0, 4.0, 5.0]))
def test_worse_weather_never_costs_less(seed: int, start: int, level: float) -> None:
    tour = a_tour([a_leg("one")])
    starts = np.datetime64("2027-04-02T06:00", "s") + np.arange(8) * np.timedelta64(300, "s")
    random = np.random.default_rng(seed)
    levels = random.choice([0.0, 1.5, 3.9, 4.0], (3, starts.size))
    worse = levels.copy()
    worse[random.integers(3), start] = np.maximum(worse[:, start].max(), level)
    avoid = np.zeros((1, starts.size), dtype=np.bool_)
    before, after = (
        hazard_price_by_member(
            assess(tour, tour.legs["one"], Way.FORWARD, starts, each, slower=0.1), avoid, Rules()
        )
        for each in (levels, worse)
    )
    assert (after >= before - 1e-9).all()
