"""The elementary table and the adding up (common practice, no source)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from replanner.hazards.combine import add_up, lifted, respond, section_severity, stricter_for
from replanner.hazards.model import Kind, Party
from replanner.hazards.register import hazard_named
from replanner.trip.model import Exposure

LEVELS = np.array([0.0, 1.0, 2.0, 2.5, 3.0, 4.0, np.nan])
NO, YES = np.array(False), np.array(True)


@pytest.mark.parametrize(
    ("exposure", "stand_in", "expected"),
    [
        (Exposure.SHELTERED, NO, [0.0, 0.75, 1.5, 1.75, 2.0, 4.0, np.nan]),
        (Exposure.SHELTERED, YES, [0.0, 0.75, 1.5, 1.75, 2.0, 4.0, np.nan]),
        (Exposure.OPEN, YES, [0.0, 1.0, 2.0, 2.5, 3.0, 4.0, np.nan]),
        (Exposure.EXPOSED, NO, [0.0, 1.0, 2.0, 2.75, 3.5, 4.0, np.nan]),
        (Exposure.EXPOSED, YES, [0.0, 1.0, 2.0, 3.0, 4.0, 4.0, np.nan]),
    ],
)
def test_elementary_table(exposure: Exposure, stand_in: np.ndarray, expected: list[float]) -> None:
    found = respond(LEVELS, exposure, shelter_helps=True, stand_in=stand_in)
    np.testing.assert_allclose(found, expected)


def test_ice_and_fog_stand_wherever_they_are_met() -> None:
    for exposure in Exposure:
        found = respond(LEVELS, exposure, shelter_helps=False, stand_in=YES)
        np.testing.assert_array_equal(found, LEVELS)


@pytest.mark.parametrize(
    ("parts", "expected"),
    [
        ([(Kind.WIND, 2.0)], 2.0),
        ([(Kind.WIND, 2.0), (Kind.WET, 2.0)], 3.0),
        ([(Kind.WIND, 2.0), (Kind.WIND, 2.5)], 2.5),  # two winds are one danger
        ([(Kind.WIND, 2.0), (Kind.WET, 1.9)], 2.0),
        ([(Kind.WIND, 3.0), (Kind.SIGHT, 3.0)], 4.0),
        ([(Kind.WIND, 3.5), (Kind.SIGHT, 2.0)], 3.5),
        ([(Kind.WIND, 2.0), (Kind.WET, 2.0), (Kind.COLD, 2.0)], 3.0),
    ],
)
def test_danger_signs_add_up(parts: list[tuple[Kind, float]], expected: float) -> None:
    kinds = [kind for kind, _ in parts]
    responses = np.array([[level] for _, level in parts])
    assert add_up(responses, kinds) == pytest.approx([expected])


PARTS = st.lists(st.tuples(st.sampled_from(Kind), st.floats(0.0, 4.0)), min_size=1, max_size=6)


@given(PARTS, st.integers(0, 5), st.floats(0.0, 4.0))
def test_a_worse_hazard_never_lowers_the_severity(
    parts: list[tuple[Kind, float]], which: int, by: float
) -> None:
    kinds = [kind for kind, _ in parts]
    before = np.array([[level] for _, level in parts])
    after = before.copy()
    after[which % len(parts)] = np.minimum(after[which % len(parts)] + by, 4.0)
    assert add_up(after, kinds) >= add_up(before, kinds)
    assert add_up(before, kinds) >= before.max()


def severity(levels: list[float], unknown: list[bool], **other: object) -> float:
    given = {"exposure": Exposure.EXPOSED, "party": Party()} | other
    kinds = [Kind.WIND, Kind.WET, Kind.SIGHT][: len(levels)]
    responses, gaps = np.array(levels)[:, None], np.array(unknown)[:, None]
    return float(section_severity(responses, gaps, kinds, **given)[0])


def test_the_unknown_is_one_caution_and_never_adds_up() -> None:
    assert severity([0.0, 0.0, 0.0], [True, True, True]) == 2
    assert severity([2.0, 0.0, 0.0], [False, True, True]) == 2
    assert severity([2.0, 2.0, 0.0], [False, False, True]) == 3
    assert severity([0.0, 0.0, 0.0], [False, False, False]) == 0


def test_the_newest_rider_avoids_an_exposed_section_with_a_caution() -> None:
    newer = Party(newer_rider=True)
    assert severity([2.0, 0.0], [False, False], party=newer) == 3
    assert severity([1.9, 0.0], [False, False], party=newer) == 1.9
    assert severity([2.0, 0.0], [False, False], party=newer, exposure=Exposure.OPEN) == 2
    assert severity([0.0, 0.0], [False, True], party=newer) == 2


def test_a_stretch_nothing_can_touch_is_go() -> None:
    nothing = np.zeros((0, 3))
    found = section_severity(
        nothing, nothing.astype(bool), [], exposure=Exposure.OPEN, party=Party()
    )
    np.testing.assert_array_equal(found, np.zeros(3))


def test_a_profile_adds_by_name_or_by_kind_and_not_to_a_trace() -> None:
    party = Party(added_levels={"gravel": 1.0, "wet": 1.0})
    levels = np.array([0.0, 1.0, 1.5, 2.0, 3.0, 3.5, np.nan])
    expected = [0.0, 1.0, 2.0, 3.0, 4.0, 4.0, np.nan]
    for name in ("gravel", "rain", "wet_track"):
        np.testing.assert_allclose(stricter_for(party, hazard_named(name), levels), expected)
    np.testing.assert_array_equal(stricter_for(party, hazard_named("gust"), levels), levels)


@given(st.floats(0.0, 4.0), st.floats(0.0, 4.0), st.floats(0.0, 2.0))
def test_lifting_keeps_the_order(one: float, other: float, by: float) -> None:
    low, high = sorted((one, other))
    assert lifted(np.array(low), by) <= lifted(np.array(high), by) + 1e-12
    assert lifted(np.array(low), by) >= low
