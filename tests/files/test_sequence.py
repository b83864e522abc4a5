"""`before` and `after` in a tour file say one thing in two ways. The tour is INVENTED."""

from pathlib import Path

import pytest

from replanner.errors import InputError
from replanner.files.tour_toml import parse_tour

TEXT = (Path(__file__).parents[1] / "data" / "tour_two_bays.toml").read_text(encoding="utf-8")
BEFORE = 'before = ["coast"]\n'


def test_after_is_before_told_from_the_other_side() -> None:
    turned = TEXT.replace(BEFORE, "").replace(
        "[legs.coast]\n", '[legs.coast]\nafter = ["saddle"]\n'
    )
    assert turned != TEXT
    assert parse_tour(turned.encode()).legs["saddle"].before == ("coast",)


def test_an_unknown_leg_to_come_after_is_told() -> None:
    wrong = TEXT.replace(BEFORE, 'after = ["cost"]\n')
    with pytest.raises(InputError, match=r"legs\.saddle\.after\[1\]: unknown leg 'cost'.*'coast'"):
        parse_tour(wrong.encode())


def test_before_and_after_that_contradict_are_a_mistake() -> None:
    wrong = TEXT.replace(BEFORE, BEFORE + 'after = ["coast"]\n')
    with pytest.raises(InputError, match="each has to come before the next"):
        parse_tour(wrong.encode())
