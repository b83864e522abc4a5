from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replanner.files.resources import demo_file
from replanner.files.toml_text import KeyPath, find_lines, parse_toml, path_text

ODD = '''\
# a comment with [brackets] and = signs
title = "a # b = [c]"  # and more
a.b."c d" = 1
long = [
  1,  # one
  [2, 3],
]
text = """
[not.a.header]
x = 1
"""
inline = { p = 1, q = { r = 2 } }

[ legs . "hask saddle" ]  # blanks and quotes
km = 3

[[legs."hask saddle".sections]]
from = 0.1
[legs."hask saddle".sections.road]
width = 3
[[legs."hask saddle".sections]]
from = 0.2
[[bases]]
[[bases]]
place = 'x'
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("title",), 2),
        (("a", "b", "c d"), 3),
        (("long",), 4),
        (("long", 1, 0), 4),
        (("text",), 8),
        (("inline", "q", "r"), 12),
        (("legs", "hask saddle"), 14),
        (("legs", "hask saddle", "km"), 15),
        (("legs", "hask saddle", "sections", 0), 17),
        (("legs", "hask saddle", "sections", 0, "from"), 18),
        (("legs", "hask saddle", "sections", 0, "road", "width"), 20),
        (("legs", "hask saddle", "sections", 1), 21),
        (("legs", "hask saddle", "sections", 1, "from"), 22),
        (("bases", 0), 23),
        (("bases", 1, "place"), 25),
    ],
)
def test_every_way_of_writing_a_key_is_found(path: KeyPath, line: int) -> None:
    assert find_lines(ODD)[path] == line


def test_what_stands_in_a_long_text_is_no_header() -> None:
    assert ("not", "a", "header") not in find_lines(ODD)


def paths(value: Any, path: KeyPath = ()) -> list[KeyPath]:
    inner = value.items() if isinstance(value, dict) else enumerate(value)
    found = [path] if path else []
    for key, item in inner:
        found += paths(item, (*path, key)) if isinstance(item, dict | list) else [(*path, key)]
    return found


@pytest.mark.parametrize("name", ["demo", "two bays", "odd"])
def test_every_path_of_a_file_has_a_line_that_names_it(name: str) -> None:
    two_bays = Path(__file__).parents[1] / "data/tour_two_bays.toml"
    raw = {
        "demo": demo_file("tour.toml").read_bytes(),
        "two bays": two_bays.read_bytes(),
        "odd": ODD.encode(),
    }[name]
    text = parse_toml(raw, name)
    lines = raw.decode().split("\n")
    tables = {("a",), ("a", "b"), ("places",), ("legs",), ("days",), ("riders", 0, "own_limits")}
    for path in paths(text.table):
        if path in tables:  # never written by themselves
            continue
        written = lines[text.lines[path] - 1]
        last = next(part for part in reversed(path) if isinstance(part, str))
        assert last in written, path


@given(st.lists(st.sampled_from(["k = 1", "# c", "", "[t]", "[[l]]", "m = [\n1\n]"]), max_size=8))
def test_lines_never_lie_outside_the_file(pieces: list[str]) -> None:
    text = "\n".join(pieces)
    assert all(1 <= line <= text.count("\n") + 1 for line in find_lines(text).values())


def test_paths_read_like_the_file_and_count_from_one() -> None:
    assert path_text(("legs", "hask", "sections", 0, "name")) == "legs.hask.sections[1].name"
    assert path_text(()) == ""
