"""Read the keys of `replanner-problem-1`, sizes first, every other key checked against them."""

from collections.abc import Mapping
from datetime import UTC, datetime
from graphlib import CycleError, TopologicalSorter
from typing import Any

import numpy as np

from replanner.planning.problem import (
    INFEASIBLE,
    NEVER,
    DayProblem,
    LegWay,
    Minutes,
    ProblemLeg,
    Slots,
)
from replanner.planning.problem_keys import Keys, describe

MOST_SLOTS = 2_000
"""A day and a half in minutes."""

MOST_LEGS = 60
MOST_ROAD_SLOTS = 5_000_000
"""Places squared times slots; the arrays take 16 bytes each of these."""


class ProblemReader:
    """Reads the parts of one file; the sizes are found first, all else is checked against them."""

    def __init__(self, keys: Keys, top: Mapping[str, Any]) -> None:
        self.keys = keys
        self.top = top
        before = len(keys.faults)
        slots = keys.whole(top.get("slots"), "slots", 1, MOST_SLOTS) if "slots" in top else 0
        self.slots: int | None = slots if slots and len(keys.faults) == before else None
        roads = top.get("travel_slots")
        self.places: int | None = len(roads) if isinstance(roads, list) and roads else None
        legs = top.get("legs")
        self.legs: int | None = len(legs) if isinstance(legs, list) else None
        self._refuse_too_large()

    def _refuse_too_large(self) -> None:
        if (self.places or 0) ** 2 * (self.slots or 1) > MOST_ROAD_SLOTS:
            self.keys.fault(
                "travel_slots",
                f"{self.places} places with {self.slots} slots are too many",
                f"keep places squared times slots within {MOST_ROAD_SLOTS}",
            )
            self.keys.raise_if_faulty()
        if (self.legs or 0) > MOST_LEGS:
            self.keys.fault("legs", f"has {self.legs} legs, at most {MOST_LEGS} can be searched")
            self.keys.raise_if_faulty()

    def problem(self) -> DayProblem:
        """Read all keys; worth nothing if a fault was noted."""
        keys, top = self.keys, self.top
        travel_slots, travel_cost = self._roads()
        start_place, earliest, latest = self._start()
        end_place, by, late = self._end()
        return DayProblem(
            slot_minutes=keys.whole(top.get("slot_minutes", 1), "slot_minutes", 1, 1440),
            first_slot=self._first_slot(),
            slots=self.slots or 1,
            travel_slots=travel_slots,
            travel_cost=travel_cost,
            wait_cost_per_slot=keys.price(
                top.get("wait_cost_per_slot", 0), "wait_cost_per_slot", low=0
            ),
            no_wait=frozenset(
                keys.indices(top.get("no_wait", []), "no_wait", "place", self.places)
            ),
            start_place=start_place,
            earliest=earliest,
            latest=latest,
            end_place=end_place,
            by=by,
            late=late,
            legs=self._legs(),
            at_most_one=self._groups("at_most_one"),
            exactly_one=self._groups("exactly_one"),
            before=self._before(),
            own_order=keys.indices(top.get("own_order", []), "own_order", "leg", self.legs),
            order_cost=keys.price(top.get("order_cost", 0), "order_cost", low=0),
            optimum=self._optimum(),
        )

    def _slot(self, table: Mapping[str, Any], where: str, key: str) -> int:
        high = self.slots - 1 if self.slots else MOST_SLOTS
        return self.keys.whole(table[key], f"{where}.{key}", 0, high) if key in table else 0

    def _place(self, table: Mapping[str, Any], where: str, key: str) -> int:
        high = self.places - 1 if self.places else MOST_SLOTS
        return self.keys.whole(table[key], f"{where}.{key}", 0, high) if key in table else 0

    def _first_slot(self) -> datetime:
        told = self.top.get("first_slot", "1970-01-01T00:00:00Z")
        mend = "write it like 2027-01-14T06:00:00Z"
        try:
            moment = datetime.fromisoformat(told)
        except (TypeError, ValueError):
            self.keys.fault("first_slot", f"{describe(told)} is no ISO 8601 time", mend)
            return datetime(1970, 1, 1, tzinfo=UTC)
        if moment.tzinfo is None:
            self.keys.fault("first_slot", f"{describe(told)} has no time zone", mend)
            return moment.replace(tzinfo=UTC)
        return moment.astimezone(UTC)

    def _start(self) -> tuple[int, int, int]:
        start: Mapping[str, Any] = {}
        if "start" in self.top:
            needs = ("place", "earliest", "latest")
            start = self.keys.table(self.top["start"], "start", needs=needs)
        earliest = self._slot(start, "start", "earliest")
        latest = self._slot(start, "start", "latest")
        if "latest" in start and latest < earliest:
            self.keys.fault("start.latest", f"{latest} is before start.earliest, {earliest}")
        return self._place(start, "start", "place"), earliest, latest

    def _end(self) -> tuple[int, int, Minutes]:
        keys, told, slots = self.keys, self.top.get("end"), self.slots or 1
        late = np.zeros(slots)
        if "end" not in self.top:
            return 0, 0, late
        by_vector = isinstance(told, Mapping) and "late" in told
        priced = ("late",) if by_vector else ("dusk", "late_cost_per_slot")
        end = keys.table(told, "end", needs=("place", "by", *priced))
        if by_vector:
            late = keys.prices_by_slot(
                end["late"], "end.late", self.slots, null=np.inf, single=False
            )
        elif "dusk" in end and "late_cost_per_slot" in end:
            dusk = keys.whole(end["dusk"], "end.dusk", 0, MOST_SLOTS)
            cost = keys.price(end["late_cost_per_slot"], "end.late_cost_per_slot", low=0)
            late = np.maximum(np.arange(slots) - dusk, 0) * cost
        return self._place(end, "end", "place"), self._slot(end, "end", "by"), late

    def _roads(self) -> tuple[Slots, Minutes]:
        places, slots = self.places or 0, self.slots or 1
        takes = np.zeros((places, places, slots), dtype=np.int64)
        told = self.keys.rows(self.top.get("travel_slots", []), "travel_slots")
        if "travel_slots" in self.top and isinstance(told, list) and not told:
            self.keys.fault("travel_slots", "holds no place")
        for a, b, where, value in self._cells(told, "travel_slots"):
            takes[a, b] = self.keys.slots_by_slot(value, where, self.slots, null=True)[:slots]
            if a == b and np.any(takes[a, b] != 0):
                self.keys.fault(where, "staying at a place should take 0 slots")
                takes[a, b] = 0
        return takes, self._road_costs(takes)

    def _road_costs(self, takes: Slots) -> Minutes:
        keys, top = self.keys, self.top
        cost = np.zeros(takes.shape)
        if ("travel_cost" in top) == ("travel_cost_per_slot" in top):
            keys.fault("travel_cost", "give either travel_cost or travel_cost_per_slot")
        if "travel_cost_per_slot" in top:
            per_slot = keys.price(top["travel_cost_per_slot"], "travel_cost_per_slot")
            return np.where(takes == NEVER, 0.0, takes * per_slot)
        if "travel_cost" not in top:
            return cost
        for a, b, where, value in self._cells(top["travel_cost"], "travel_cost"):
            found = keys.prices_by_slot(value, where, self.slots, null=np.inf, single=True)
            cost[a, b] = found[: takes.shape[2]]
            if np.any(np.isinf(cost[a, b]) & (takes[a, b] != NEVER)):
                keys.fault(where, "has no price where travel_slots has a road")
            if a == b and np.any(cost[a, b] != 0):
                keys.fault(where, "staying at a place should cost 0")
        return np.where(np.isinf(cost), 0.0, cost)

    def _cells(self, told: object, where: str) -> list[tuple[int, int, str, Any]]:
        """Cells of a matrix by place and place, its shape checked."""
        rows = self.keys.rows(told, where)
        places = self.places or 0
        if len(rows) != places:
            self.keys.fault(
                where, f"has {len(rows)} rows, should have one for each place: {places}"
            )
        cells = []
        for a, row in enumerate(rows[:places]):
            line = self.keys.rows(row, f"{where}[{a}]")
            if isinstance(row, list) and len(line) != places:
                self.keys.fault(
                    f"{where}[{a}]",
                    f"has {len(line)} values, should have one for each place: {places}",
                )
            cells += [(a, b, f"{where}[{a}][{b}]", v) for b, v in enumerate(line[:places])]
        return cells

    def _legs(self) -> tuple[ProblemLeg, ...]:
        legs = []
        ids: dict[str, int] = {}
        for j, told in enumerate(self.keys.rows(self.top.get("legs", []), "legs")):
            where = f"legs[{j}]"
            leg = self.keys.table(
                told, where, needs=("id", "must", "ways"), may=("ride_slots", "worth")
            )
            name = self.keys.text(leg["id"], f"{where}.id") if "id" in leg else ""
            if name and ids.setdefault(name, j) != j:
                self.keys.fault(f"{where}.id", f"{name!r} is already the id of legs[{ids[name]}]")
            must = self.keys.yes_no(leg["must"], f"{where}.must") if "must" in leg else False
            legs.append(ProblemLeg(id=name, must=must, ways=self._ways(leg, where)))
        return tuple(legs)

    def _ways(self, leg: Mapping[str, Any], where: str) -> tuple[LegWay, ...]:
        if "ways" not in leg:
            return ()
        told = self.keys.rows(leg["ways"], f"{where}.ways")
        if leg["ways"] == []:
            self.keys.fault(f"{where}.ways", "holds no way of riding the leg")
        shared = {key: self._way_array(leg, where, key) for key in ("ride_slots", "worth")}
        ways = []
        for m, value in enumerate(told):
            at = f"{where}.ways[{m}]"
            way = self.keys.table(value, at, needs=("from", "to"), may=("ride_slots", "worth"))
            own = {key: self._way_array(way, at, key) for key in ("ride_slots", "worth")}
            for key in ("ride_slots", "worth"):
                if own[key] is None and shared[key] is None:
                    self.keys.fault(
                        f"{at}.{key}", "is missing", f"give it here or as {where}.{key}"
                    )
            start, end = self._place(way, at, "from"), self._place(way, at, "to")
            ride, worth = (
                array if (array := own[key]) is not None else shared[key]
                for key in ("ride_slots", "worth")
            )
            if ride is not None and worth is not None:
                ways.append(
                    LegWay(start=start, end=end, ride_slots=ride.astype(np.int64), worth=worth)
                )
        return tuple(ways)

    def _way_array(self, table: Mapping[str, Any], where: str, key: str) -> Minutes | None:
        if key not in table:
            return None
        at = f"{where}.{key}"
        if key == "worth":
            return self.keys.prices_by_slot(table[key], at, self.slots, null=-np.inf, single=False)
        return self.keys.slots_by_slot(table[key], at, self.slots, null=False).astype(np.float64)

    def _groups(self, key: str) -> tuple[tuple[int, ...], ...]:
        groups = []
        for i, told in enumerate(self.keys.rows(self.top.get(key, []), key)):
            groups.append(self.keys.indices(told, f"{key}[{i}]", "leg", self.legs))
            if told == []:
                self.keys.fault(f"{key}[{i}]", "names no leg")
        return tuple(groups)

    def _before(self) -> tuple[tuple[int, int], ...]:
        pairs: list[tuple[int, int]] = []
        for i, told in enumerate(self.keys.rows(self.top.get("before", []), "before")):
            where = f"before[{i}]"
            legs = self.keys.indices(told, where, "leg", self.legs)
            if isinstance(told, list) and len(told) != 2:  # noqa: PLR2004 - a pair
                self.keys.fault(where, f"should be a pair [first, later], is {describe(told)}")
            elif len(legs) == 2:  # noqa: PLR2004 - a pair
                pairs.append((legs[0], legs[1]))
        sorter: TopologicalSorter[int] = TopologicalSorter()
        for first, later in pairs:
            sorter.add(later, first)
        try:
            sorter.prepare()
        except CycleError as error:
            circle = " before ".join(str(leg) for leg in error.args[1])
            self.keys.fault("before", f"goes in a circle: leg {circle}", "take one pair out")
        return tuple(pairs)

    def _optimum(self) -> float | None:
        if "optimum" not in self.top:
            return None
        told = self.top["optimum"]
        return INFEASIBLE if told is None else self.keys.price(told, "optimum")
