"""Where plans and pictures are made: processes beside the one that talks.

A plan takes most of a second of one processor. Made in the talking process, a full house's
evening would make every answer wait. A worker that is killed is replaced, and what it was making
is made again. What a rider has just asked for does not wait behind an evening's plans: those
never take the last free worker.
"""

import ctypes
import gc
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from multiprocessing.connection import Connection, wait
from multiprocessing.context import BaseContext
from typing import ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")

_TRIES = 3


class Workshop:
    """Runs functions in worker processes.

    Parameters
    ----------
    workers : int
        How many; 0: all is done in the calling thread.
    prepare : callable or None
        Run once in each worker before its first work.
    imports : sequence of str
        Modules that all workers share, where the system lets them.
    """

    def __init__(
        self,
        workers: int,
        prepare: Callable[[], None] | None = None,
        imports: Sequence[str] = (),
    ) -> None:
        self._workers, self._prepare, self._imports = workers, prepare, list(imports)
        self._lock = threading.Lock()
        self._executor: Executor | None = None
        self._closed = False
        # Held by us alone: when we close it, or are killed, the workers see its other end.
        self._held, self._leash = multiprocessing.Pipe(duplex=False)
        self._for_the_many = threading.Semaphore(max(workers - 1, 1))

    def run(self, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Run something a rider waits for, and return what it gives; blocks."""
        if self._workers == 0:
            return work(*args, **kwargs)
        for attempt in range(1, _TRIES + 1):
            executor = self._running()
            try:
                return executor.submit(_then_give_back, partial(work, *args, **kwargs)).result()
            except BrokenProcessPool:
                self._replace(executor)
                if attempt == _TRIES:
                    raise
        raise AssertionError("the last try returns or raises")

    def run_among_many(self, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Run something nobody waits for yet: one worker stays free for those who do."""
        with self._for_the_many:
            return self.run(work, *args, **kwargs)

    def close(self) -> None:
        """End the workers, with what they have begun: it is on record and begun anew next time."""
        with self._lock:
            executor, self._executor = self._executor, None
            self._closed = True
        if executor is not None:
            executor.shutdown(wait=False, cancel_futures=True)
        self._leash.close()

    def _running(self) -> Executor:
        with self._lock:
            if self._closed:
                raise RuntimeError("the workshop is closed")
            if self._executor is None:
                self._executor = ProcessPoolExecutor(
                    self._workers,
                    mp_context=_context(self._imports),
                    initializer=_begin,
                    initargs=(self._prepare, self._held),
                )
            return self._executor

    def _replace(self, broken: Executor) -> None:
        with self._lock:
            if self._executor is broken:
                self._executor = None
        broken.shutdown(wait=False, cancel_futures=True)


def _context(imports: list[str]) -> BaseContext:
    """Return how workers are started.

    They are never forked from this process: a fork of a process with threads can stand still for
    ever. Forked from one that has only imported they share its memory and are there at once.
    """
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(imports)
    return context


def _begin(prepare: Callable[[], None] | None, leash: Connection) -> None:
    """Begin a worker: without a master it would wait for work for ever."""
    gc.freeze()  # what was imported stays shared: looking for garbage in it would copy it
    threading.Thread(target=_end_with, args=(leash,), daemon=True).start()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # a terminal's Ctrl-C is the master's to heed
    if prepare is not None:
        prepare()


def _then_give_back(work: Callable[[], T]) -> T:
    """Do a piece of work, then give the memory it took back to the system.

    glibc keeps what has been freed: some 30 MB after a plan, for each worker that waits for work
    (malloc_trim(3); other C libraries have no such call).
    """
    try:
        return work()
    finally:
        trim = getattr(ctypes.CDLL(None), "malloc_trim", None) if os.name == "posix" else None
        if trim is not None:
            trim(0)


def _end_with(leash: Connection) -> None:
    wait([leash])
    os._exit(1)
