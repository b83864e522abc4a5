"""The fewest demands that cannot hold together, against all sets of them. INVENTED conflicts."""

from itertools import combinations
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.planning import smallest
from replanner.planning.smallest import UNKNOWN, Broken, fewest_conflict

COUNT = 9

Sets = list[frozenset[int]]

conflicts = st.lists(st.frozensets(st.integers(0, COUNT - 1), max_size=5), min_size=1, max_size=6)


def breaking(conflicts: Sets, seed: int) -> Broken:
    """Give plans that break of each conflict a demand that they need not keep, and some more."""
    random = Random(seed)

    def broken(kept: frozenset[int]) -> frozenset[int] | None:
        loose = [sorted(conflict - kept) for conflict in conflicts]
        if not all(loose):
            return None
        others = {one for one in range(COUNT) if random.random() < 0.3} - kept
        return frozenset({random.choice(one) for one in loose} | others)

    return broken


def clashes(conflicts: Sets, demands: frozenset[int]) -> bool:
    return any(conflict <= demands for conflict in conflicts)


@settings(deadline=None)
@given(conflicts, st.integers(0, 2**32 - 1))
def test_no_fewer_demands_cannot_hold(conflicts: Sets, seed: int) -> None:
    found = fewest_conflict(COUNT, breaking(conflicts, seed))
    assert clashes(conflicts, found.demands)
    assert found.fewest
    for size in range(len(found.demands)):
        for fewer in combinations(range(COUNT), size):
            assert not clashes(conflicts, frozenset(fewer))


@settings(deadline=None)
@given(conflicts, st.integers(0, 2**32 - 1), st.integers(0, 4))
def test_given_up_none_is_to_spare_and_fewest_is_told_only_where_it_is_so(
    conflicts: Sets, seed: int, most_asked: int
) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(smallest, "MOST_ASKED", most_asked)
        found = fewest_conflict(COUNT, breaking(conflicts, seed))
    assert clashes(conflicts, found.demands)
    for one in found.demands:
        assert not clashes(conflicts, found.demands - {one})
    if found.fewest:
        assert len(found.demands) == min(map(len, conflicts))


# Letting go of 0 first finds 3, 4 and 5; that 1 and 2 are fewer takes a question.
TWO = [frozenset({0, 1, 2}), frozenset({1, 2}), frozenset({3, 4, 5})]


def test_a_search_for_fewer_that_is_given_up_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    assert fewest_conflict(COUNT, breaking(TWO, 0)) == smallest.Conflict(frozenset({1, 2}), True)
    monkeypatch.setattr(smallest, "MOST_ASKED", 0)
    told = fewest_conflict(COUNT, breaking(TWO, 0))
    assert told == smallest.Conflict(frozenset({3, 4, 5}), fewest=False)


def test_what_a_stopped_search_does_not_know_is_kept_and_not_called_fewest() -> None:
    plans = breaking([frozenset({3})], 0)
    found = fewest_conflict(COUNT, lambda kept: UNKNOWN if 5 not in kept else plans(kept))
    assert found == smallest.Conflict(frozenset({3, 5}), fewest=False)
