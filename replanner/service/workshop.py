"""Where plans and pictures are made: processes beside the one that talks.

A plan takes most of a second of one processor. Made in the talking process, a full house's
evening would make every answer wait. A worker that is killed is replaced, and what it was making
is made again. What a rider has just asked for does not wait behind an evening's plans: those
never take the last free worker.
"""

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable
from concurrent.futures import Executor, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing.connection import wait
from multiprocessing.process import BaseProcess
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
    """

    def __init__(self, workers: int, prepare: Callable[[], None] | None = None) -> None:
        self._workers, self._prepare = workers, prepare
        self._lock = threading.Lock()
        self._executor: Executor | None = None
        self._for_the_many = threading.Semaphore(max(workers - 1, 1))

    def run(self, work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
        """Run something a rider waits for, and return what it gives; blocks."""
        if self._workers == 0:
            return work(*args, **kwargs)
        for attempt in range(1, _TRIES + 1):
            executor = self._running()
            try:
                return executor.submit(work, *args, **kwargs).result()
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
        """Let the workers go; what they have begun is not waited for."""
        with self._lock:
            executor, self._executor = self._executor, None
        if executor is not None:
            executor.shutdown(wait=False, cancel_futures=True)

    def _running(self) -> Executor:
        with self._lock:
            if self._executor is None:
                # Not forked: a fork of a process with threads can stand still for ever.
                context = multiprocessing.get_context("spawn")
                self._executor = ProcessPoolExecutor(
                    self._workers,
                    mp_context=context,
                    initializer=_begin,
                    initargs=(self._prepare,),
                )
            return self._executor

    def _replace(self, broken: Executor) -> None:
        with self._lock:
            if self._executor is broken:
                self._executor = None
        broken.shutdown(wait=False, cancel_futures=True)


def _begin(prepare: Callable[[], None] | None) -> None:
    """Begin a worker: one whose master was killed would wait for work for ever."""
    master = multiprocessing.parent_process()
    if master is not None:
        threading.Thread(target=_end_with, args=(master,), daemon=True).start()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # a terminal's Ctrl-C is the master's to heed
    if prepare is not None:
        prepare()


def _end_with(master: BaseProcess) -> None:
    wait([master.sentinel])
    os._exit(1)
