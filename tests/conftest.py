"""What makes a run of all tests quicker and changes no test: less sweeping up, one compiler."""

import fcntl
import gc
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import pytest

from replanner.planning import warm_up

# Importing all tests leaves nothing behind: sweeping up takes a third of the time it takes.
gc.disable()


@pytest.hookimpl(trylast=True)
def pytest_collection_finish() -> None:
    """What was imported stays until the end: it is not looked through over and over."""
    gc.collect()
    gc.freeze()
    gc.enable()


@pytest.fixture(scope="session", autouse=True)
def one_compiler(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Let one worker of a run compile the loops, and the other take them from numba's cache.

    Compiling takes twenty seconds of the processor where nothing is in the cache yet. Meanwhile
    searches are done by the vectorised twins, which give the same to the last bit, and no search
    waits; tests of the compiled loops ask for them and wait as long as it takes.
    """
    turn = tmp_path_factory.getbasetemp().parent / "compiling"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(warm_up, "_compile_all", partial(_in_turn, turn, warm_up._compile_all))
        patch.setattr(warm_up, "begin", partial(warm_up.begin, most_wait_s=0.0))
        yield


def _in_turn(turn: Path, compile_all: Callable[[], None]) -> None:
    with turn.open("w") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        compile_all()
