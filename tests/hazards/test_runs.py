"""The worst of runs of neighbouring values, beside each run looked at alone."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from replanner.hazards.runs import worst_of_runs

RUNS = st.lists(st.tuples(st.integers(0, 39), st.integers(1, 40)), max_size=12)


@given(RUNS, st.sampled_from([(), (1,), (3,)]), st.floats(0.0, 0.3), st.integers(0, 2**32 - 1))
def test_each_run_has_its_largest_value(
    runs: list[tuple[int, int]], rows: tuple[int, ...], missing: float, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    values = rng.uniform(-1.0, 4.0, (*rows, 40))
    values[rng.uniform(size=values.shape) < missing] = np.nan
    within = [(first, min(length, 40 - first)) for first, length in runs]
    first, length = np.array(within, np.int64).reshape(-1, 2).T
    found = worst_of_runs(values, first, length)
    assert found.shape == (*rows, len(within))
    for place, (begin, count) in enumerate(within):
        np.testing.assert_array_equal(
            found[..., place], values[..., begin : begin + count].max(axis=-1)
        )
