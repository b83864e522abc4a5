"""Areas are told apart in grey and by every eye. Models: `seeing.py` beside this file."""

from itertools import combinations, pairwise

import pytest

from replanner.pictures.fills import (
    GUST,
    INK,
    LEVELS,
    LIGHTS,
    NOT_RIDDEN,
    PAPER,
    RAIN,
    UNKNOWN,
    level_fill,
)
from tests.pictures.seeing import MACHADO, contrast, linear, luminance

# WCAG 2.1, success criterion 1.4.11 asks 3:1 of graphics where nothing else tells them apart; ours
# have a pattern and a word besides. Assumption: half of that is seen at a glance in sunlight.
LEAST_RATIO = 1.5
TEXT_RATIO = 7.0  # WCAG 2.1, success criterion 1.4.6, level AAA


def test_the_models_give_their_published_values():
    """WCAG 2.1: black on white is 21:1; white keeps its luminance to every eye (rows sum to 1)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert luminance("#ffffff") == pytest.approx(1.0)
    # W3C, G18: #767676 is the lightest grey that reaches 4.5:1 on white
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")
    for matrix in MACHADO.values():
        assert matrix.sum(axis=1) == pytest.approx([1.0, 1.0, 1.0], abs=2e-6)
    assert linear("#ffffff") == pytest.approx([1.0, 1.0, 1.0])


@pytest.mark.parametrize("eye", MACHADO)
@pytest.mark.parametrize("fills", [LEVELS, LIGHTS], ids=["levels", "lights"])
def test_fills_that_lie_beside_each_other_differ_in_light_and_pattern(fills, eye):
    for one, other in pairwise(fills):
        assert contrast(one.colour, other.colour, eye) >= LEAST_RATIO
        light = contrast(one.colour, other.colour, eye)
        assert one.pattern != other.pattern or light >= 3.0


@pytest.mark.parametrize("eye", MACHADO)
def test_worse_is_darker(eye):
    shades = [luminance(fill.colour, eye) for fill in LEVELS]
    assert shades == sorted(shades, reverse=True)


@pytest.mark.parametrize("eye", MACHADO)
def test_any_two_levels_are_told_apart_not_only_neighbours(eye):
    for one, other in combinations(LEVELS, 2):
        assert contrast(one.colour, other.colour, eye) >= LEAST_RATIO


@pytest.mark.parametrize("eye", MACHADO)
def test_bars_stand_out_and_what_is_unknown_looks_like_none_of_them(eye):
    for fill in (RAIN, GUST):
        assert contrast(fill.colour, NOT_RIDDEN.colour, eye) >= LEAST_RATIO
        assert contrast(fill.colour, UNKNOWN.colour, eye) >= LEAST_RATIO
        assert fill.pattern != UNKNOWN.pattern
    assert UNKNOWN.pattern != NOT_RIDDEN.pattern


@pytest.mark.parametrize("eye", MACHADO)
def test_text_is_black_on_white(eye):
    assert contrast(INK, PAPER, eye) >= TEXT_RATIO


@pytest.mark.parametrize(
    ("severity", "number"), [(0.0, 0), (1.99, 0), (2.0, 1), (2.99, 1), (3.0, 2), (4.0, 3)]
)
def test_each_level_has_its_own_fill(severity, number):
    assert level_fill(severity) == LEVELS[number]
