"""Read untrusted JSON values, collecting every fault with its key path instead of stopping.

A getter that finds a fault notes it and returns a harmless stand-in of the right type, so that the
rest of the file is read too; nothing read counts once there is a fault.
"""

import difflib
import math
from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypeGuard

import numpy as np

from replanner.errors import Fault, InputError
from replanner.planning.problem import NEVER, Minutes, Slots

DEAREST = 1e6
"""Prices and worths beyond this many minutes (two years) are mistakes. [min]"""

LONGEST_TOLD = 40
"""Characters of a wrong value that are told."""

LONGEST = 1_000_000
"""Rides and connectors beyond this many slots are mistakes."""


def is_number(value: object) -> TypeGuard[int | float]:
    """Whether it is a JSON number; true and false are none."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def describe(value: object) -> str:
    """Tell a JSON value in a few characters."""
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, Mapping):
        return "an object"
    if value is None or isinstance(value, bool):
        return {None: "null", True: "true", False: "false"}[value]
    told = repr(value)
    return told if len(told) <= LONGEST_TOLD else told[:LONGEST_TOLD] + "..."


class Keys:
    """The getters and the faults they found."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []

    def fault(self, where: str, what: str, mend: str = "") -> None:
        """Note a mistake."""
        self.faults.append(Fault(where, what, mend))

    def raise_if_faulty(self) -> None:
        """Raise InputError with all faults noted, if any."""
        if self.faults:
            raise InputError.of(tuple(self.faults))

    def table(
        self, value: object, where: str, *, needs: Iterable[str], may: Iterable[str] = ()
    ) -> Mapping[str, Any]:
        """Check an object's keys: all needed are there, none is unknown."""
        if not isinstance(value, Mapping):
            self.fault(where or "file", f"should be an object, is {describe(value)}")
            return {}
        needs = tuple(needs)
        known = (*needs, *may)
        for key in value:
            if key not in known:
                near = difflib.get_close_matches(str(key), known, 1, 0.5)
                mend = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(known)}"
                self.fault(_under(where, str(key)), "unknown key", mend)
        for key in needs:
            if key not in value:
                self.fault(_under(where, key), "is missing")
        return value

    def rows(self, value: object, where: str) -> list[Any]:
        """Check that it is a list."""
        if isinstance(value, list):
            return value
        self.fault(where, f"should be a list, is {describe(value)}")
        return []

    def text(self, value: object, where: str) -> str:
        """Check that it is words, not empty."""
        if isinstance(value, str) and value:
            return value
        self.fault(where, f"should be a text, is {describe(value)}")
        return ""

    def yes_no(self, value: object, where: str) -> bool:
        """Check that it is true or false."""
        if isinstance(value, bool):
            return value
        self.fault(where, f"should be true or false, is {describe(value)}")
        return False

    def whole(self, value: object, where: str, low: int, high: int) -> int:
        """Check a whole number from `low` to `high`."""
        wrong = _not_whole(value, low, high)
        if wrong or not is_number(value):
            self.fault(where, wrong)
            return low
        return int(value)

    def price(self, value: object, where: str, *, low: float = -DEAREST) -> float:
        """Check a price or worth in minutes."""
        wrong = _not_price(value, low)
        if wrong or not is_number(value):
            self.fault(where, wrong)
            return 0.0
        return float(value)

    def indices(self, value: object, where: str, what: str, count: int | None) -> tuple[int, ...]:
        """Check a list of different indices below `count` (None: not known)."""
        high = LONGEST if count is None else count - 1
        found: list[int] = []
        for i, item in enumerate(self.rows(value, where)):
            if not is_number(item) or _not_whole(item, 0, high):
                range_ = "" if count is None else f", there are {count}, counted from 0"
                self.fault(f"{where}[{i}]", f"{describe(item)} is no index of a {what}{range_}")
            elif int(item) in found:
                self.fault(f"{where}[{i}]", f"{what} {int(item)} is named twice")
            else:
                found.append(int(item))
        return tuple(found)

    def slots_by_slot(self, value: object, where: str, slots: int | None, *, null: bool) -> Slots:
        """Check whole slots, one number or one a slot; null (if allowed) becomes NEVER.

        Returns
        -------
        ndarray of int, shape (slots,)
        """
        items = self._by_slot(value, where, slots)
        self._check_items(
            items,
            where,
            single=not isinstance(value, list),
            wrong=lambda item: "" if null and item is None else _not_whole(item, 0, LONGEST),
        )
        good = [int(x) if is_number(x) and math.isfinite(x) else NEVER for x in items]
        return _spread(np.clip(np.array(good, dtype=np.float64), NEVER, LONGEST), slots).astype(
            np.int64
        )

    def prices_by_slot(
        self, value: object, where: str, slots: int | None, *, null: float | None, single: bool
    ) -> Minutes:
        """Check prices, one a slot or (if `single`) one number; null becomes `null` if allowed.

        Returns
        -------
        ndarray of float, shape (slots,). [min]
        """
        if not single and not isinstance(value, list):
            self.fault(where, f"should be a list of one a slot, is {describe(value)}")
            return np.zeros(slots or 1)
        items = self._by_slot(value, where, slots)
        self._check_items(
            items,
            where,
            single=not isinstance(value, list),
            wrong=lambda item: "" if null is not None and item is None else _not_price(item),
        )
        stand_in = 0.0 if null is None else null
        good = [float(x) if is_number(x) and not _not_price(x) else stand_in for x in items]
        return _spread(np.array(good, dtype=np.float64), slots)

    def _by_slot(self, value: object, where: str, slots: int | None) -> list[Any]:
        if not isinstance(value, list):
            return [value]
        if slots is not None and len(value) != slots:
            self.fault(where, f"has {len(value)} values, should have one for each of {slots} slots")
            return value[:slots] or [0]
        return value or [0]

    def _check_items(
        self, items: list[Any], where: str, *, single: bool, wrong: Callable[[object], str]
    ) -> None:
        """Note the first wrong item of an array and how many more there are."""
        found = [(i, fault) for i, item in enumerate(items) if (fault := wrong(item))]
        if found:
            first, fault = found[0]
            more = f" (and {len(found) - 1} more in this list)" if len(found) > 1 else ""
            self.fault(where if single else f"{where}[{first}]", fault + more)


def _under(where: str, key: str) -> str:
    return f"{where}.{key}" if where else key


def _not_whole(value: object, low: int, high: int) -> str:
    if not is_number(value):
        return f"should be a whole number, is {describe(value)}"
    if isinstance(value, float) and not value.is_integer():
        return f"should be a whole number, is {describe(value)}"
    if not low <= value <= high:
        return f"should be from {low} to {high}, is {describe(value)}"
    return ""


def _not_price(value: object, low: float = -DEAREST) -> str:
    if not is_number(value):
        return f"should be a number, is {describe(value)}"
    if not math.isfinite(value):
        return f"should be a finite number, is {describe(value)}"
    if not low <= value <= DEAREST:
        return f"should be from {low:.0f} to {DEAREST:.0f} minutes, is {describe(value)}"
    return ""


def _spread(values: Minutes, slots: int | None) -> Minutes:
    if slots is None or len(values) == slots:
        return values
    return np.broadcast_to(values[:1], (slots,)).copy()
