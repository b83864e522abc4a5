"""The day problem's file: round trip, and every mistake told at once with its key path."""

import json
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings

from replanner.errors import InputError
from replanner.planning.problem import INFEASIBLE, NEVER, DayProblem
from replanner.planning.problem_file import read_problem, write_problem
from tests.planning.day_problems import any_problem


def small() -> dict[str, Any]:
    """An INVENTED problem of two places, three slots and two legs."""
    return {
        "format": "replanner-problem-1",
        "slot_minutes": 15,
        "first_slot": "2027-01-14T06:00:00Z",
        "slots": 3,
        "travel_slots": [[0, 1], [[1, 2, None], 0]],
        "travel_cost_per_slot": 1.5,
        "start": {"place": 0, "earliest": 0, "latest": 2},
        "end": {"place": 1, "by": 2, "dusk": 1, "late_cost_per_slot": 3.0},
        "legs": [
            {
                "id": "pass",
                "must": False,
                "ride_slots": 1,
                "worth": [10, None, 7.25],
                "ways": [{"from": 0, "to": 1}, {"from": 1, "to": 0, "worth": [1, 2, 3]}],
            },
            {
                "id": "loop",
                "must": True,
                "ways": [{"from": 1, "to": 1, "ride_slots": [1, 2, 3], "worth": [4, 5, 6]}],
            },
        ],
        "at_most_one": [[0, 1]],
        "before": [[0, 1]],
    }


def faults_of(data: object) -> dict[str, str]:
    """Read what should be wrong: what is told by where it is."""
    with pytest.raises(InputError) as caught:
        read_problem(data if isinstance(data, str | bytes) else json.dumps(data))
    assert all(fault.where for fault in caught.value.faults)
    return {fault.where: f"{fault.what} {fault.mend}" for fault in caught.value.faults}


def changed(path: str, value: object) -> dict[str, Any]:
    """The small problem with one key changed, path in dots."""
    data = small()
    *parents, last = [int(key) if key.isdigit() else key for key in path.split(".")]
    at: Any = data
    for key in parents:
        at = at[key]
    at[last] = value
    return data


def test_every_key_is_read() -> None:
    problem = read_problem(json.dumps(small()))
    assert problem.slots == 3
    assert problem.places == 2
    assert problem.travel_slots.tolist() == [[[0, 0, 0], [1, 1, 1]], [[1, 2, NEVER], [0, 0, 0]]]
    assert problem.travel_cost.tolist() == [
        [[0, 0, 0], [1.5, 1.5, 1.5]],
        [[1.5, 3.0, 0.0], [0, 0, 0]],
    ]
    assert problem.late.tolist() == [0.0, 0.0, 3.0]
    first, second = problem.legs
    assert [way.worth.tolist() for way in first.ways] == [[10, -np.inf, 7.25], [1, 2, 3]]
    assert [way.ride_slots.tolist() for way in first.ways] == [[1, 1, 1], [1, 1, 1]]
    assert second.must
    assert second.ways[0].ride_slots.tolist() == [1, 2, 3]
    assert problem.optimum is None
    assert problem.wait_cost_per_slot == 0.0
    assert problem.no_wait == frozenset()


def test_bytes_a_mapping_and_a_byte_order_mark_are_read() -> None:
    text = json.dumps(small())
    same = write_problem(read_problem(text))
    assert write_problem(read_problem(text.encode())) == same
    assert write_problem(read_problem(small())) == same
    assert write_problem(read_problem("\ufeff" + text)) == same


@pytest.mark.parametrize(("told", "read"), [(None, INFEASIBLE), (12.5, 12.5)])
def test_the_optimum_stated_is_kept(told: float | None, read: float) -> None:
    problem = read_problem(small() | {"optimum": told})
    assert problem.optimum == read
    assert read_problem(write_problem(problem)).optimum == read


def same_problem(a: DayProblem, b: DayProblem) -> bool:
    """Compare key by key: arrays have no plain equality."""
    ways = [
        (x.start, x.end, x.ride_slots.tolist(), x.worth.tolist())
        == (y.start, y.end, y.ride_slots.tolist(), y.worth.tolist())
        for one, other in zip(a.legs, b.legs, strict=True)
        for x, y in zip(one.ways, other.ways, strict=True)
    ]
    plain = ("slot_minutes", "first_slot", "slots", "wait_cost_per_slot", "no_wait", "start_place")
    plain += ("earliest", "latest", "end_place", "by", "at_most_one", "exactly_one", "before")
    plain += ("own_order", "order_cost", "optimum")
    arrays = ("travel_slots", "travel_cost", "late")
    return (
        all(ways)
        and [(leg.id, leg.must) for leg in a.legs] == [(leg.id, leg.must) for leg in b.legs]
        and all(getattr(a, key) == getattr(b, key) for key in plain)
        and all(np.array_equal(getattr(a, key), getattr(b, key)) for key in arrays)
    )


@settings(max_examples=60, deadline=None)
@given(any_problem())
def test_written_and_read_again_it_is_the_same(file: dict[str, Any]) -> None:
    problem = read_problem(file)
    text = write_problem(problem)
    again = read_problem(text)
    assert same_problem(problem, again)
    assert write_problem(again) == text


def test_numbers_are_written_to_the_last_digit() -> None:
    data = changed("legs.1.ways.0.worth", [0.1, 1 / 3, 1e-9])
    assert read_problem(write_problem(read_problem(data))).legs[1].ways[0].worth.tolist() == [
        0.1,
        1 / 3,
        1e-9,
    ]


def test_a_price_that_is_no_number_is_not_written() -> None:
    problem = read_problem(small())
    problem.legs[1].ways[0].worth[0] = np.nan
    with pytest.raises(ValueError, match="not JSON compliant"):
        write_problem(problem)


@pytest.mark.parametrize(
    ("path", "value", "where", "words"),
    [
        ("slots", 0, "slots", "from 1"),
        ("slots", True, "slots", "whole number, is true"),
        ("slots", 2.5, "slots", "whole number"),
        ("slots", 10**9, "slots", "from 1"),
        ("slot_minutes", -5, "slot_minutes", "from 1"),
        ("first_slot", "2027-01-14T06:00:00", "first_slot", "no time zone"),
        ("first_slot", "half past six", "first_slot", "no ISO 8601 time"),
        ("first_slot", 7, "first_slot", "no ISO 8601 time"),
        ("travel_slots", [], "travel_slots", "no place"),
        ("travel_slots.0", [0], "travel_slots[0]", "one for each place: 2"),
        ("travel_slots.0.1", -1, "travel_slots[0][1]", "from 0"),
        ("travel_slots.0.1", [1, 2], "travel_slots[0][1]", "each of 3 slots"),
        ("travel_slots.0.1", [1, -2, 3], "travel_slots[0][1][1]", "from 0"),
        ("travel_slots.0.1", [1, False, 3], "travel_slots[0][1][1]", "is false"),
        ("travel_slots.1.1", 1, "travel_slots[1][1]", "take 0 slots"),
        ("travel_slots.1.1", None, "travel_slots[1][1]", "take 0 slots"),
        ("travel_cost", [[0, 1], [1, 0]], "travel_cost", "either"),
        ("travel_cost_per_slot", "much", "travel_cost_per_slot", "should be a number"),
        ("wait_cost_per_slot", -1, "wait_cost_per_slot", "from 0"),
        ("no_wait", [2], "no_wait[0]", "no index of a place"),
        ("start", [0, 1, 2], "start", "should be an object"),
        ("start.place", 2, "start.place", "from 0 to 1"),
        ("start.latest", 3, "start.latest", "from 0 to 2"),
        ("start.earliest", -1, "start.earliest", "from 0"),
        ("end.by", 3, "end.by", "from 0 to 2"),
        ("end.late", [0, 0, 0], "end.dusk", "unknown"),
        ("end.place", 7, "end.place", "from 0 to 1"),
        ("legs", {}, "legs", "should be a list"),
        ("legs.0", 5, "legs[0]", "should be an object"),
        ("legs.0.id", "loop", "legs[1].id", "already the id of legs[0]"),
        ("legs.0.id", "", "legs[0].id", "should be a text"),
        ("legs.0.must", 1, "legs[0].must", "true or false"),
        ("legs.0.ways", [], "legs[0].ways", "no way"),
        ("legs.0.worth", [1, 2], "legs[0].worth", "each of 3 slots"),
        ("legs.0.worth", 5, "legs[0].worth", "list of one a slot"),
        ("legs.0.ride_slots", [1, None, 1], "legs[0].ride_slots[1]", "is null"),
        ("legs.1.ways.0.from", 2, "legs[1].ways[0].from", "from 0 to 1"),
        ("legs.1.ways.0.worth", [1, True, 2], "legs[1].ways[0].worth[1]", "is true"),
        ("legs.1.ways.0.worth", [1, 1e300, 2], "legs[1].ways[0].worth[1]", "minutes"),
        ("at_most_one", [[0, 2]], "at_most_one[0][1]", "no index of a leg"),
        ("at_most_one", [[]], "at_most_one[0]", "names no leg"),
        ("exactly_one", [[1, 1]], "exactly_one[0][1]", "named twice"),
        ("exactly_one", [[-1]], "exactly_one[0][0]", "no index of a leg"),
        ("before", [[0]], "before[0]", "pair"),
        ("before", [[0, 1], [1, 0]], "before", "goes in a circle"),
        ("own_order", [0, 0], "own_order[1]", "named twice"),
        ("own_order", [0.5], "own_order[0]", "no index"),
        ("order_cost", -1, "order_cost", "from 0"),
        ("optimum", "best", "optimum", "should be a number"),
    ],
)
def test_a_wrong_value_is_told_with_its_key(
    path: str, value: object, where: str, words: str
) -> None:
    faults = faults_of(changed(path, value))
    assert words in faults[where]


def test_a_start_that_ends_before_it_begins_is_told() -> None:
    data = small()
    data["start"] |= {"earliest": 2, "latest": 1}
    assert "is before start.earliest" in faults_of(data)["start.latest"]


@pytest.mark.parametrize("word", ["NaN", "Infinity", "-Infinity", "1e999"])
def test_what_is_not_finite_is_refused(word: str) -> None:
    text = json.dumps(small()).replace("7.25", word)
    assert "finite" in faults_of(text)["legs[0].worth[2]"]


@pytest.mark.parametrize(
    "key",
    ["format", "slot_minutes", "first_slot", "slots", "travel_slots", "start", "end", "legs"],
)
def test_a_missing_key_is_told(key: str) -> None:
    data = small()
    del data[key]
    assert "is missing" in faults_of(data)[key]


@pytest.mark.parametrize(
    ("at", "key"),
    [("start", "latest"), ("end", "by"), ("end", "dusk"), ("legs.0", "must"), ("legs.0", "id")],
)
def test_a_missing_inner_key_is_told(at: str, key: str) -> None:
    data = small()
    inner: Any = data
    for part in at.split("."):
        inner = inner[int(part) if part.isdigit() else part]
    del inner[key]
    where = at.replace(".0", "[0]")
    assert "is missing" in faults_of(data)[f"{where}.{key}"]


def test_times_missing_from_the_way_and_the_leg_are_told() -> None:
    data = small()
    del data["legs"][0]["worth"]
    assert "legs[0].worth" in faults_of(data)["legs[0].ways[0].worth"]


def test_an_unknown_key_names_the_nearest_known() -> None:
    data = small() | {"travel_slot": 1, "zzz": 1}
    data["legs"][0]["worths"] = []
    faults = faults_of(data)
    assert "did you mean 'travel_slots'?" in faults["travel_slot"]
    assert "did you mean 'worth'?" in faults["legs[0].worths"]
    assert "known are" in faults["zzz"]


def test_another_format_is_told_alone() -> None:
    assert faults_of({"format": "something-else-2", "slots": -1}).keys() == {"format"}


def test_all_mistakes_are_told_at_once() -> None:
    data = small() | {"slots": 3, "slot_minutes": 0, "order_cost": "x", "no_wait": [9]}
    data["start"] = {"place": 5, "earliest": 0, "latest": 9}
    data["legs"][0]["must"] = "yes"
    data["legs"][1]["ways"][0] |= {"to": -1, "ride_slots": -3}
    del data["end"]["by"]
    assert faults_of(data).keys() == {
        "slot_minutes",
        "order_cost",
        "no_wait[0]",
        "start.place",
        "start.latest",
        "legs[0].must",
        "legs[1].ways[0].to",
        "legs[1].ways[0].ride_slots",
        "end.by",
    }


def test_many_mistakes_in_one_list_are_one_line() -> None:
    faults = faults_of(changed("legs.1.ways.0.worth", ["a", "b", "c"]))
    assert list(faults) == ["legs[1].ways[0].worth[0]"]
    assert "2 more in this list" in faults["legs[1].ways[0].worth[0]"]


@pytest.mark.parametrize(
    ("text", "where", "words"),
    [
        ("", "line 1, column 1", "not JSON"),
        ('{"slots": 3,\n"legs": [}', "line 2, column 10", "not JSON"),
        ("{'slots': 3}", "line 1, column 2", "not JSON"),
        ("[" * 100_000, "file", "nested too deep"),
        ('{"slots": ' + "9" * 10_000 + "}", "file", "too long"),
        ('{"slots": 3, "slots": 4}', "slots", "given twice"),
        (b'{"slots": 3,\n"id": "\xff"}', "line 2", "not UTF-8"),
    ],
)
def test_what_is_not_json_is_told_with_its_line(text: str | bytes, where: str, words: str) -> None:
    assert words in faults_of(text)[where]


@pytest.mark.parametrize("text", ["[]", "3", "null", '"x"'])
def test_json_that_is_no_object_is_refused(text: str) -> None:
    assert "should be an object" in faults_of(text)["file"]


def test_a_file_that_would_not_fit_in_memory_is_refused_early() -> None:
    places = 60
    data = small() | {"slots": 2_000, "travel_slots": [[0] * places] * places}
    assert "too many" in faults_of(data)["travel_slots"]
    assert "at most 60" in faults_of(small() | {"legs": [{}] * 61})["legs"]
