"""A solver in a process of its own: OR-Tools 9.15 destroys its heap now and then.

A run that crashed is told as such and made once more; it is never an answer.
"""

import multiprocessing
from collections.abc import Callable
from multiprocessing.connection import Connection
from typing import Generic, NamedTuple, TypeVar

P = TypeVar("P")
A = TypeVar("A")

TRIES = 2
MORE_S = 60.0
"""What a process may take beyond the solver's limit: its start, the model, the end."""


class Told(NamedTuple, Generic[A]):
    """An answer (None: every try crashed) and how many tries crashed."""

    answer: A | None
    crashes: int


def solve_apart(solver: Callable[[P, float], A], problem: P, limit_s: float) -> Told[A]:
    """Ask a solver, a function of a module, in a new process."""
    for crashes in range(TRIES):
        answer = _asked(solver, problem, limit_s)
        if answer is not None:
            return Told(answer, crashes)
    return Told(None, TRIES)


def _asked(solver: Callable[[P, float], A], problem: P, limit_s: float) -> A | None:
    context = multiprocessing.get_context("spawn")
    hears, tells = context.Pipe(duplex=False)
    process = context.Process(target=_answer, args=(tells, solver, problem, limit_s))
    process.start()
    tells.close()
    try:
        answer: A | None = hears.recv() if hears.poll(limit_s + MORE_S) else None
    except EOFError:
        answer = None
    if answer is None:
        process.kill()
    process.join()
    # An error that was told is one of the model, not of the solver.
    if isinstance(answer, Exception):
        raise answer
    return answer


def _answer(tells: Connection, solver: Callable[[P, float], A], problem: P, limit_s: float) -> None:
    try:
        answer: A | Exception = solver(problem, limit_s)
    except Exception as error:  # noqa: BLE001 - handed on
        answer = error
    tells.send(answer)
