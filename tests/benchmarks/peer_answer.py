"""What another solver says of a day or a tour, and whether that agrees with the search."""

from typing import NamedTuple

SAME = 5e-4
"""Minutes by which values may differ: the other solver counts in thousandths."""


class Answer(NamedTuple):
    """What a solver says, and what it took once it had the model.

    `value` (None: no plan found) and `bound`, which no plan exceeds, are in minutes.
    """

    wall_s: float
    processor_s: float
    value: float | None
    bound: float
    proven: bool


def agree(ours: float | None, peer: Answer) -> None:
    """Fail unless all the other solver found and proved allows that our proven value is the best.

    Raises
    ------
    AssertionError
        It proved another value, found a better plan, or has a bound below our plan.
    """
    if peer.proven and (ours is None) != (peer.value is None):
        raise AssertionError(f"the peer proves {peer.value}, the search {ours}")
    if peer.value is not None and (ours is None or peer.value > ours + SAME):
        raise AssertionError(f"the peer has a plan of {peer.value}, the search proves {ours}")
    if ours is None:
        return
    most = peer.value if peer.proven and peer.value is not None else peer.bound
    if most < ours - SAME:
        raise AssertionError(f"the peer proves at most {most}, the search has a plan of {ours}")
