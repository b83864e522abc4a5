"""What a line that was not understood is told to be near; nonsense is told to be near nothing.

Counted on lines of both halves of the table of phrasings, mistyped so that they are not understood
(whether they are is not touched by this), and on lines of words made of syllables by chance.
Without the share of letters asked for, 31 % of the latter were told to be near something.
"""

import random
import sys
from functools import cache

import pytest

from replanner.dialogue import nearest as of_nearest
from replanner.dialogue.intent_types import NotUnderstood
from replanner.dialogue.intents import understand
from replanner.dialogue.matching import without_noise
from replanner.dialogue.names import words_of
from replanner.dialogue.nearest import nearest
from replanner.dialogue.topics import Topic
from tests.dialogue.evening import hearing
from tests.dialogue.phrasings import Phrasing, When, mistyped, read_table, under_way, understood
from tests.dialogue.test_phrasings import said

_CONSONANTS, _VOWELS = "bcdfghjklmnprstvwxz", "aeiou"


def nonsense(count: int) -> list[str]:
    """Return lines of one to four words of one to three syllables; always the same ones."""
    chance = random.Random(5)

    def syllable() -> str:
        end = chance.choice(_CONSONANTS) if chance.random() < 0.5 else ""
        return chance.choice(_CONSONANTS) + chance.choice(_VOWELS) + end

    def word() -> str:
        return "".join(syllable() for _ in range(chance.randint(1, 3)))

    return [" ".join(word() for _ in range(chance.randint(1, 4))) for _ in range(count)]


def told(line: str) -> tuple[Topic, ...]:
    return nearest(without_noise(words_of(line)))


@cache
def lost() -> tuple[tuple[Phrasing, str], ...]:
    """Return mistyped lines of which nothing is understood, with what they should have been."""
    found = []
    for one in read_table():
        state, sent = under_way(one.when)
        for kind, text in mistyped(one.text):
            if kind not in ("dropped", "beside"):
                continue
            meant = understand(text, state.hearing(sent))
            if isinstance(meant, NotUnderstood) and not understood(one, text):
                found.append((one, text))
    return tuple(found)


def rightly_told(*, held_out: bool) -> int:
    return sum(
        not {str(topic) for topic in told(text)}.isdisjoint({str(one["topic"]) for one in p.means})
        for p, text in lost()
        if p.held_out is held_out
    )


def test_the_share_asked_for_costs_hardly_a_right_hint(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = {half: rightly_told(held_out=half) for half in (False, True)}
    monkeypatch.setattr(of_nearest, "_SHARE", 0.0)
    unasked = {half: rightly_told(held_out=half) for half in (False, True)}
    with capsys.disabled():
        sys.stdout.write(f"\nright hints (held out or not), of all: {asked}, {unasked}")
    assert asked[False] == unasked[False] > 0
    assert asked[True] >= unasked[True] - 1


def test_nonsense_is_near_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    lines = [one for one in nonsense(400) if understand(one, hearing()) == NotUnderstood(told(one))]
    near = [line for line in lines if told(line)]
    with capsys.disabled():
        sys.stdout.write(f"\nnonsense told to be near something: {len(near)} of {len(lines)}")
    assert len(lines) > 300
    assert len(near) <= 0.08 * len(lines)


@pytest.mark.parametrize("line", ["blorf zzz wibble", "lorem ipsum dolor", "asdf", "hubba bubba"])
def test_who_writes_nonsense_is_told_what_can_be_asked(line: str) -> None:
    state, _ = under_way(When.EVENING)
    after, answer = said(state, line)
    assert answer == (
        "I did not get that. You can say: ok, keep my order, why, plan b, skip ..., closed ..., "
        "commands."
    )
    assert after.demands == state.demands
    assert after.accepted is None


def test_a_mistyped_word_is_told_its_nearest() -> None:
    state, _ = under_way(When.EVENING)
    assert said(state, "kep")[1].startswith("I did not get that. Nearest: keep my order")
