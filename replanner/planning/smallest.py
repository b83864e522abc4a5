"""The smallest set of demands that cannot hold together, by what plans of the others break.

Every plan breaks some of any set that cannot hold. So: guess the fewest demands of which each known
plan breaks one; where there is no plan that keeps the guess, it is the smallest such set, else the
plan found is one more to break (smallest unsatisfiable sets as least hitting sets: Ignatiev, A.,
Previti, A., Liffiton, M. and Marques-Silva, J. (2015), "Smallest MUS extraction with minimal
hitting set dualization", CP 2015, LNCS 9255, 173-182).
"""

from collections.abc import Callable, Sequence

Demands = frozenset[int]


def smallest_conflict(
    known: Demands, count: int, broken: Callable[[Demands], Demands | None], most_asked: int
) -> Demands:
    """Find fewest demands that cannot hold together.

    Parameters
    ----------
    known : frozenset of int
        Demands that cannot hold together, none to spare: told where no fewer are found.
    count : int
        Demands are numbered from 0 to below this.
    broken : callable
        From demands to keep to those that a plan that keeps them breaks; None: there is no plan.
        None broken where that is not known: `known` is told then.
    most_asked : int
        After so many questions it is given up, and `known` told.

    Returns
    -------
    frozenset of int
    """
    if len(known) < 2:  # noqa: PLR2004 - one demand alone has none to spare
        return known
    every, asked = frozenset(range(count)), 0
    plans: list[Demands] = []
    while asked < most_asked:
        guess = _least_hitting(plans, len(known) - 1)
        if guess is None:
            return known
        asked += 1
        breaks = broken(guess)
        if breaks is None:
            return guess
        for one in sorted(breaks):  # a plan that breaks fewer tells more
            if one in breaks and len(breaks) > 1 and asked < most_asked:
                asked += 1
                fewer = broken(every - breaks | {one})
                breaks = breaks if fewer is None else fewer
        plans.append(breaks)
    return known


def _least_hitting(sets: Sequence[Demands], most: int) -> Demands | None:
    """Return the fewest numbers of which each set holds one; None: that takes more than `most`."""
    for size in range(most + 1):
        found = _hitting(sets, frozenset(), size)
        if found is not None:
            return found
    return None


def _hitting(sets: Sequence[Demands], chosen: Demands, more: int) -> Demands | None:
    left = [one for one in sets if not one & chosen]
    if not left:
        return chosen
    if more == 0:
        return None
    shortest: Demands = min(left, key=len)
    for number in sorted(shortest):
        found = _hitting(left, chosen | {number}, more - 1)
        if found is not None:
            return found
    return None
