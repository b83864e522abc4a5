"""The two twins of every loop of the search: vectorised, and compiled where numba is installed."""

from collections.abc import Iterator

import pytest

from replanner.planning import fast, warm_up


@pytest.fixture(scope="module", params=["vectorised", "compiled"])
def loops(request: pytest.FixtureRequest) -> Iterator[None]:
    """Run a module once by the vectorised and once by the compiled loops."""
    compiled = request.param == "compiled"
    if compiled and not fast.installed():
        pytest.skip("numba is not installed")
    if compiled:
        warm_up.begin(most_wait_s=300)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(fast, "available", lambda: compiled)
        patch.setattr(warm_up, "begin", lambda: None)
        yield
