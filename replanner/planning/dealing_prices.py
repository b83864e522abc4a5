"""Prices of the shared legs: with them each day is searched apart, and the days bound the tour.

Riding a shared leg costs its price on every day, and the price is given back once. A dealing gains
or loses nothing by that, while several days that want one leg want it less: what the days are worth
together, each at its best, is a bound on every dealing (Lagrangian relaxation: Geoffrion, A. M.
(1974), Mathematical Programming Study 2, 82-114). A leg that need not be ridden is never worth less
than nothing; one that must be may have a price below nothing, so that a day is paid to take it.

A price is set as at an auction, between what a leg is worth to the day that would give most for it
and to the next, the other prices standing.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from replanner.planning.dealing_parts import prices_of_parts
from replanner.planning.dealt_day import DealtDay, Micros, Scope
from replanner.planning.exact_prices import MICRO

ROUNDS = 4
"""How often all prices are set in turn, at most."""

NOTHING_KNOWN = -(10**13)
"""Stands for what a part is worth that no known plan keeps to. [millionths]"""

Allowed = tuple[int, ...]
"""By shared leg the days that may ride it, as a bit mask."""


@dataclass(frozen=True, slots=True)
class Bound:
    """What a tour is worth at most at some prices, and the part each day would have then."""

    value: int
    parts: tuple[int, ...]


class Auction:
    """The days of a tour bidding for its shared legs.

    Parameters
    ----------
    days : sequence of DealtDay
    musts : frozenset of int
    """

    def __init__(self, days: Sequence[DealtDay], musts: frozenset[int]) -> None:
        self._days = days
        self._musts = musts
        self.dearest = np.array([_dearest(day) for day in days], dtype=np.int64)

    def opening(self, allowed: Allowed) -> Micros:
        """Return prices to begin with: half of what a leg is worth to the second of its days."""
        prices = np.zeros(len(allowed), dtype=np.int64)
        for leg, days in enumerate(allowed):
            worths = sorted(
                (int(self.dearest[day, leg]) for day in members(days)),
                reverse=True,
            )
            if len(worths) > 1:
                prices[leg] = worths[1] // 2
        return prices

    def scopes(self, allowed: Allowed) -> tuple[Scope, ...]:
        """Return what each day may have and must."""
        scopes = []
        for number, day in enumerate(self._days):
            may = {leg for leg, days in enumerate(allowed) if days >> number & 1}
            must = {leg for leg in self._musts if allowed[leg] == 1 << number}
            scopes.append(Scope(day.mask(may), day.mask(must)))
        return tuple(scopes)

    def bound(self, allowed: Allowed, prices: Micros) -> Bound:
        """Return what the tour is worth at most, by what is known of its days."""
        value, parts = int(prices.sum()), []
        for day, scope in zip(self._days, self.scopes(allowed), strict=True):
            worth, part = day.best(scope, prices[list(day.shared)])
            value += worth
            parts.append(part)
        return Bound(value, tuple(parts))

    def priced(self, allowed: Allowed, prices: Micros) -> Micros:
        """Set the price of every leg that several days may ride; others have none."""
        prices = prices.copy()
        contested = [leg for leg, days in enumerate(allowed) if days.bit_count() > 1]
        prices[[leg for leg in range(len(allowed)) if leg not in contested]] = 0
        guesses, scopes = self._guesses(), self.scopes(allowed)
        for _ in range(ROUNDS):
            before = prices.copy()
            for leg in contested:
                first, second = self._bids(allowed, scopes, prices, leg, guesses)[:2]
                most, next_most = first[0], second[0]
                if leg not in self._musts:
                    most, next_most = max(most, 0), max(next_most, 0)
                prices[leg] = (most + next_most) // 2
            if np.array_equal(prices, before):
                break
        return prices

    def highest_bidder(self, allowed: Allowed, prices: Micros, leg: int) -> int:
        """Return the day that would give most for a leg."""
        return self._bids(allowed, self.scopes(allowed), prices, leg, self._guesses())[0][1]

    def _guesses(self) -> tuple[Micros, ...]:
        return tuple(_guess(day) for day in self._days)

    def _bids(
        self,
        allowed: Allowed,
        scopes: Sequence[Scope],
        prices: Micros,
        leg: int,
        guesses: Sequence[Micros],
    ) -> list[tuple[int, int]]:
        """Return what having a leg is worth to each day that may, with the day; falling."""
        bids = []
        for number in members(allowed[leg]):
            day, scope = self._days[number], scopes[number]
            bit = 1 << day.shared.index(leg)
            own = prices[list(day.shared)]
            own[day.shared.index(leg)] = 0
            worth = guesses[number] - prices_of_parts(own)
            having = worth[day.fitting(Scope(scope.may, scope.must | bit))].max()
            lacking = worth[day.fitting(Scope(scope.may & ~bit, scope.must & ~bit))].max()
            most = int(self.dearest[number, leg])
            bids.append((min(max(int(having - lacking), -most), most), number))
        return sorted(bids, key=lambda bid: (-bid[0], bid[1]))


def members(mask: int) -> tuple[int, ...]:
    """Return the numbers in a bit mask."""
    return tuple(number for number in range(mask.bit_length()) if mask >> number & 1)


def _dearest(day: DealtDay) -> list[int]:
    """Return by shared leg of the tour the most riding it can be worth on a day, or the least.

    Whichever is further from nothing: no bid is believed beyond it.
    """
    worths = []
    for numbers, extra in zip(day.day.rides, day.day.extra, strict=True):
        ways = [way for number in numbers for way in day.day.problem.legs[number].ways]
        found = [way.worth[np.isfinite(way.worth)] for way in ways]
        minutes = max((float(np.abs(worth + extra).max(initial=0.0)) for worth in found), default=0)
        worths.append(round(minutes * MICRO))
    return worths


def _guess(day: DealtDay) -> Micros:
    """Return what each part of a day is likely to be worth.

    As long as not all is known, what the best plan known is worth that keeps to the part: prices
    that set known plans against each other are where the next search tells most.
    """
    if day.all_known:
        return day.at_least
    guess = np.where(day.has_plan, day.at_least, NOTHING_KNOWN)
    for bit in range(len(day.shared)):
        with_it = day.parts >> bit & 1 == 1
        guess[with_it] = np.maximum(guess[with_it], guess[day.parts[with_it] ^ 1 << bit])
    return guess
