"""Loops compiled where the `fast` extra is installed; without it the vectorised twins do the work.

A kernel is a plain function of arrays. With numba it is compiled once and kept in numba's cache
beside the module, or in the user's cache folder. Twins give the same numbers to the last bit: all
values are whole numbers (`exact_prices`), so the order of adding does not matter.

Nobody waits for a compiler: until all kernels are made ready (`warm_up`) the twins do the work.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import update_wrapper
from importlib import import_module
from importlib.util import find_spec
from threading import Event, local
from types import FunctionType
from typing import Generic, ParamSpec, TypeVar

P = ParamSpec("P")
R = TypeVar("R")

_ready = Event()
_here = local()


def installed() -> bool:
    """Tell whether loops can be compiled at all."""
    return find_spec("numba") is not None


def available() -> bool:
    """Tell whether to use the compiled loops."""
    return _ready.is_set() or getattr(_here, "compiling", False)


@contextmanager
def compiling() -> Iterator[None]:
    """Use the compiled loops in this thread only, compiling them; everywhere when that is done."""
    _here.compiling = True
    try:
        yield
        _ready.set()
    finally:
        _here.compiling = False


class Kernel(Generic[P, R]):
    """A function compiled when first called; `plain` is it as written."""

    def __init__(self, plain: Callable[P, R]) -> None:
        self.plain = plain
        self._compiled: Callable[P, R] | None = None
        update_wrapper(self, plain)

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> R:
        """Run it compiled."""
        return self.compiled(*args, **kwargs)

    @property
    def compiled(self) -> Callable[P, R]:
        """The function compiled."""
        if self._compiled is None:
            self._compiled = _compiled(_with_kernels(self.plain))
        return self._compiled


def _with_kernels(plain: Callable[P, R]) -> Callable[P, R]:
    """Give a function that sees the kernels it calls, all of its own module, compiled."""
    known = dict(plain.__globals__)
    for name in plain.__code__.co_names:
        if isinstance(kernel := known.get(name), Kernel):
            known[name] = kernel.compiled
    seeing: Callable[P, R] = FunctionType(plain.__code__, known, plain.__name__)
    return seeing


def _compiled(plain: Callable[P, R]) -> Callable[P, R]:
    numba = import_module("numba")
    try:
        made: Callable[P, R] = numba.njit(plain, cache=True)
    except RuntimeError:  # nowhere to keep it: compile anew in each process
        made = numba.njit(plain)
    return made
