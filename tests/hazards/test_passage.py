"""Windows of hours round a passage."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from replanner.hazards.passage import ColumnsAt, alike, gather, worst_around


def brute_force(levels: np.ndarray, enter: float, leave: float) -> tuple[float, bool]:
    first, last = int(enter // 60) - 1, int(leave // 60) + 1
    seen = [levels[at] if 0 <= at < len(levels) else np.nan for at in range(first, last + 1)]
    known = [level for level in seen if not np.isnan(level)]
    return max([0.0, *known]), any(np.isnan(level) for level in seen)


@given(
    st.lists(st.one_of(st.just(np.nan), st.floats(0.0, 4.0)), min_size=1, max_size=12),
    st.lists(st.tuples(st.floats(-200.0, 900.0), st.floats(0.0, 300.0)), min_size=1, max_size=5),
)
def test_against_plain_counting(levels: list[float], passages: list[tuple[float, float]]) -> None:
    enter = np.array([begin for begin, _ in passages])
    leave = enter + np.array([lasts for _, lasts in passages])
    worst = worst_around(np.array([levels]), enter, leave)
    for at in range(enter.size):
        level, unknown = brute_force(np.array(levels), enter[at], leave[at])
        assert worst.level[0, at] == level
        assert worst.unknown[0, at] == unknown
        if level > 0:
            assert levels[worst.hour[0, at]] == level


def test_the_neighbour_hours_count_and_the_passage_is_named_first() -> None:
    # common practice, no source: the worst of passage hour -1 .. +1
    levels = np.array([[0.0, 3.0, 1.0, 3.0, 0.0, 0.0]])
    worst = worst_around(levels, np.array([130.0, 150.0, 250.0]), np.array([140.0, 200.0, 260.0]))
    assert worst.level.tolist() == [[3.0, 3.0, 3.0]]
    assert worst.hour.tolist() == [[1, 3, 3]]


def test_a_gap_is_told_by_its_own_hour() -> None:
    levels = np.array([[0.0, 3.0, 1.0, np.nan, np.nan, 0.0]])
    enter, leave = np.array([130.0, 150.0, 250.0, 20.0]), np.array([140.0, 200.0, 260.0, 30.0])
    worst = worst_around(levels, enter, leave)
    # after the passage, in it, in it; before the table begins
    assert worst.gap.tolist() == [[3, 3, 4, -1]]
    assert worst.unknown.all()


def test_members_and_starts_broadcast() -> None:
    levels = np.arange(24.0).reshape(2, 3, 4)  # hazards, members, hours
    plain = worst_around(levels, np.array([60.0, 65.0]), np.array([70.0, 75.0]))
    assert plain.level.shape == (2, 3, 2)
    enter = np.array([[60.0], [60.0], [120.0]])
    assert worst_around(levels, enter, enter + 1).level[:, :, 0].tolist() == [
        [2.0, 6.0, 11.0],
        [14.0, 18.0, 23.0],
    ]


def test_hours_outside_the_table_are_missing() -> None:
    found = gather(np.array([1.0, 2.0]), np.array([-5, -1, 0, 1, 2, 9]))
    np.testing.assert_array_equal(found, [np.nan, np.nan, 1.0, 2.0, np.nan, np.nan])


def test_columns_are_taken_at_the_hours_asked() -> None:
    taken = ColumnsAt({"rain": np.array([[1.0, 2.0], [3.0, 4.0]])}, np.array([1, 0, 1]))
    assert taken["rain"].tolist() == [[2.0, 1.0, 2.0], [4.0, 3.0, 4.0]]
    assert taken.get("wind") is None
    assert list(taken) == ["rain"]
    assert len(taken) == 1


@given(st.lists(st.integers(-5000, 5000), min_size=1, max_size=40), st.sampled_from([1, 2]))
def test_alike_is_what_numpy_sorts_out(numbers: list[int], members: int) -> None:
    # independent oracle: numpy.unique
    whole = np.array(numbers * members).reshape(members, -1)
    found = alike(whole)
    distinct, inverse = np.unique(whole, return_inverse=True)
    np.testing.assert_array_equal(found.distinct, distinct)
    np.testing.assert_array_equal(found.number, inverse.reshape(whole.shape))
