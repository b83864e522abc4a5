"""Live positions mark the legs of the demo tour as ridden: simulated rides, all INVENTED."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from itertools import chain

import numpy as np
import pytest
from hypothesis import Phase, example, given, settings
from hypothesis import strategies as st

from replanner.geodesy import Point
from replanner.trip.model import Way
from replanner.trip.progress import Progress, advance
from replanner.trip.stretches import leg_line, point_at
from tests.trip.rides import Phone, demo, followed

BEGIN = datetime(2027, 4, 1, 20, tzinfo=UTC)
FRIDAY = ("hask_saddle", "brindle_loop", "gannet_spur", "salt_causeway", "quern_loop")
STAND_INS = ("hask_valley_road", "brindle_low_road")
SATURDAY = ("lantern_coast", "narrows_ferry", "wrack_bay", "sable_road")
SEEDS = st.integers(0, 2**32 - 1)
# A ride of many positions takes long to make small.
QUICK = settings(max_examples=12, deadline=None, phases=(Phase.explicit, Phase.generate))


def phone(seed: int = 0, seconds: float = 60.0, noise_m: float = 15.0) -> Phone:
    return Phone(demo(), BEGIN, np.random.default_rng(seed), seconds, noise_m)


@pytest.mark.parametrize("leg", [*FRIDAY, *STAND_INS])
@pytest.mark.parametrize("way", list(Way))
def test_each_leg_of_a_day_is_marked_when_ridden_alone_and_no_other(leg: str, way: Way) -> None:
    found = followed(demo(), FRIDAY + STAND_INS, phone().along(leg, way))
    assert found.ridden == (leg,)


@QUICK
@given(SEEDS, st.permutations(FRIDAY), st.floats(60.0, 240.0), st.floats(0.0, 60.0))
def test_a_day_of_loops_is_marked_in_the_order_ridden(
    seed: int, order: list[str], seconds: float, noise_m: float
) -> None:
    mobile = phone(seed, seconds, noise_m)
    ways = mobile.rng.integers(0, 2, len(order))
    rides = (mobile.along(leg, Way(int(way))) for leg, way in zip(order, ways, strict=True))
    found = followed(demo(), FRIDAY, chain.from_iterable(rides))
    assert found.ridden == tuple(order)
    assert found.on is None


def test_a_day_from_base_to_base_is_marked_leg_by_leg() -> None:
    mobile = phone()
    rides = chain.from_iterable(mobile.along(leg) for leg in SATURDAY)
    assert followed(demo(), SATURDAY, rides).ridden == SATURDAY


@QUICK
@given(SEEDS, st.sampled_from(FRIDAY + STAND_INS), st.floats(0.05, 0.42), st.floats(20.0, 600.0))
def test_a_leg_left_the_way_they_came_is_never_marked(
    seed: int, leg: str, turned: float, seconds: float
) -> None:
    mobile = phone(seed, seconds)
    out_and_back = chain(mobile.along(leg, last=turned), mobile.along(leg, first=turned, last=0.0))
    found = followed(demo(), FRIDAY + STAND_INS, out_and_back)
    assert leg not in found.ridden
    # what was ridden may be another leg: the low road lies on the way to the ridge
    assert set(found.ridden) <= {"brindle_low_road", "hask_valley_road"}


@QUICK
@example(0, ["hask_saddle"], 60.0, 0, 65.0)  # the valley road lies beside the way back
@given(SEEDS, st.lists(st.sampled_from(FRIDAY), min_size=1, max_size=4, unique=True),
       st.floats(60.0, 240.0), st.integers(0, 200), st.floats(5.0, 70.0))  # fmt: skip
def test_gaps_and_jumps_never_mark_a_leg_that_was_not_ridden(
    seed: int, order: list[str], seconds: float, begin: int, minutes: float
) -> None:
    """An hour without signal and a wild position: what is marked was ridden, in that order."""
    mobile = phone(seed, seconds)
    told = list(chain.from_iterable(mobile.along(leg) for leg in order))
    gap = told[min(begin, len(told) - 1)][1]
    heard = [one for one in told if not gap < one[1] < gap + timedelta(minutes=minutes)]
    wild = int(mobile.rng.integers(0, len(heard)))
    point, at = heard[wild]
    heard.insert(wild + 1, (Point(point.latitude + 0.5, point.longitude, 0.0), at))
    found = followed(demo(), FRIDAY + STAND_INS, iter(heard))
    ranks = [order.index(leg) for leg in found.ridden]  # raises for one that was not ridden
    assert ranks == sorted(ranks)


def test_an_hour_without_signal_on_a_long_leg_is_no_loss() -> None:
    """Cindergate takes 225 minutes; its two places are met before and after the gap."""
    mobile = phone()
    told = list(mobile.along("cindergate"))
    first, last = BEGIN + timedelta(minutes=135), BEGIN + timedelta(minutes=152)
    heard = [one for one in told if not first < one[1] < last]
    assert followed(demo(), ("cindergate",), iter(heard)).ridden == ("cindergate",)


def test_the_low_road_lies_on_the_way_to_the_ridge_but_the_ridge_was_ridden() -> None:
    found = followed(demo(), ("brindle_loop", *STAND_INS), phone().along("brindle_loop"))
    assert found.ridden == ("brindle_loop",)


def test_waiting_at_the_base_marks_nothing() -> None:
    mobile = phone(noise_m=80.0)
    base = demo().places["orrowick"].point

    def waiting() -> Iterator[tuple[Point, datetime]]:
        for _ in range(120):
            mobile.wait(1)
            yield mobile.here(base)

    found = followed(demo(), FRIDAY + STAND_INS, waiting())
    assert (found.ridden, found.on) == ((), None)


@pytest.mark.parametrize("fraction", [0.1, 0.3, 0.45, 0.55, 0.8])
def test_the_leg_under_way_is_told_with_where_on_it(fraction: float) -> None:
    """A spur is ridden one way only: out and back lie on one road, but are told apart."""
    ride = phone().along("gannet_spur", last=fraction)
    found = followed(demo(), ("gannet_spur", "hask_saddle", "salt_causeway"), ride)
    assert found.on is not None
    assert found.on.leg == "gannet_spur"
    assert found.on.fraction == pytest.approx(fraction, abs=0.03)


def test_which_way_round_a_loop_on_one_known_place_cannot_be_told() -> None:
    found = followed(demo(), ("quern_loop",), phone().along("quern_loop", last=0.4))
    assert found.on is not None
    assert not found.way_known


def test_old_and_impossible_positions_change_nothing() -> None:
    tour, base = demo(), demo().places["orrowick"].point
    before = advance(Progress(), tour, FRIDAY, base, BEGIN)
    assert advance(before, tour, FRIDAY, base, BEGIN) == before
    there = point_at(leg_line(tour, tour.legs["hask_saddle"]), 0.4)
    assert advance(before, tour, FRIDAY, there, BEGIN + timedelta(minutes=2)) == before


def test_a_leg_marked_is_not_marked_again() -> None:
    mobile = phone()
    rides = chain(mobile.along("quern_loop"), mobile.along("quern_loop"))
    assert followed(demo(), FRIDAY, rides).ridden == ("quern_loop",)
