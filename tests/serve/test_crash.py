"""A few of the runs of `crash`, which is a script for hundreds."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.serve.crash import Play, runs
from tests.serve.nursery import Nursery

# Few plans have to be made for these.
WORDS = ("why", "skip gannet stack", "ok", "undo")
SEEDS = range(11, 13)


@pytest.fixture(scope="module")
def nursery() -> Iterator[Nursery]:
    with Nursery() as mother:
        yield mother


@pytest.fixture(scope="module")
def plans(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("plans")


def test_what_bots_killed_at_random_come_to_is_what_was_said(nursery: Nursery, plans: Path) -> None:
    figures = runs(SEEDS, nursery, plans, Play(words=WORDS))
    assert not figures.failed
    assert figures.sound == len(SEEDS)
    assert figures.kills >= len(SEEDS)
    assert figures.words >= 2 * len(SEEDS)
    assert figures.accepts >= 1
    assert figures.faults.total() >= 1


def test_what_was_lost_would_be_seen(nursery: Nursery, plans: Path) -> None:
    """The comparison is told of a word that was never said."""
    figures = runs(range(1), nursery, plans, Play(words=WORDS, never_said="skip gannet stack"))
    assert len(figures.failed) == 1
