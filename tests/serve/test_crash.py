"""A few of the runs of `crash`, which is a script for hundreds."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.botapi.state import Delivery, Version
from tests.serve.alike import AGAIN, files_repeated
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
    assert figures.files >= 2 * figures.sound
    assert figures.faults.total() >= 1


def test_what_was_lost_would_be_seen(nursery: Nursery, plans: Path) -> None:
    """The comparison is told of a word that was never said."""
    figures = runs(range(1), nursery, plans, Play(words=WORDS, never_said="skip gannet stack"))
    assert len(figures.failed) == 1


@pytest.mark.parametrize(
    ("captions", "repeats"),
    [
        ({"photo": [""], "document": [""]}, 0),
        ({"photo": ["", AGAIN], "document": [AGAIN]}, 1),
        ({"photo": ["", ""], "document": [""]}, None),  # a repeat that does not say so
        ({"photo": [], "document": [""]}, None),
    ],
)
def test_a_file_that_is_missing_or_not_marked_would_be_seen(captions, repeats) -> None:
    files = [
        Delivery(chat_id=1, message_id=1, kind=kind, versions=[Version(0.0, caption, [], None)])
        for kind, told in captions.items()
        for caption in told
    ]
    assert files_repeated(files) == repeats
