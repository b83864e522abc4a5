"""A fixed piece of numpy work: figures of different machines and minutes are told beside it."""

from time import process_time

import numpy as np

RUNS = 5


def turn_seconds() -> float:
    """Return the processor seconds one turn of the work takes just now, the middle of some."""
    taken = []
    for _ in range(RUNS):
        begun = process_time()
        _turn()
        taken.append(process_time() - begun)
    return sorted(taken)[RUNS // 2]


def _turn() -> float:
    """Do many small numpy calls and some large ones, as an evening does."""
    small, large = np.linspace(0.0, 1.0, 200), np.linspace(0.0, 1.0, 20_000)
    total = 0.0
    for _ in range(1000):
        total += float(np.interp(np.where(small > 0.5, small, 0.5), [0, 1], [0, 2]).max())
    for _ in range(20):
        total += float(np.arctan2(np.sin(large), np.cos(large)).max())
    return total
