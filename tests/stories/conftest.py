"""What every story needs: the invented week's sky, and one who lets stories happen."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.stories.ridden import Sky, Teller, one_sky


@pytest.fixture(scope="session")
def sky() -> Iterator[Sky]:
    with one_sky() as found:
        yield found


@pytest.fixture
def teller(sky: Sky, tmp_path: Path) -> Teller:
    return Teller(sky, tmp_path)
