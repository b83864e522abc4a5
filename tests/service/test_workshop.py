"""Work in other processes: killed workers are replaced, none is left behind, none is waited for."""

import os
import signal
import threading
import time
from collections.abc import Iterator

import pytest

from replanner.service.workshop import Workshop

PATIENCE = 20.0


@pytest.fixture
def workshop() -> Iterator[Workshop]:
    made = Workshop(2)
    yield made
    made.close()


def slow(seconds: float) -> int:
    time.sleep(seconds)
    return os.getpid()


def there(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def test_a_killed_worker_s_work_is_done_all_the_same(workshop: Workshop) -> None:
    doomed = workshop.run(os.getpid)
    done: list[int] = []
    works = [
        threading.Thread(target=lambda: done.append(workshop.run(slow, 0.3))) for _ in range(6)
    ]
    for work in works:
        work.start()
    time.sleep(0.1)
    os.kill(doomed, signal.SIGKILL)
    for work in works:
        work.join(PATIENCE)
    assert len(done) == 6
    assert doomed not in done[-2:]


def test_what_is_begun_is_not_waited_for_at_the_end(workshop: Workshop) -> None:
    worker = workshop.run(os.getpid)
    failed: list[str] = []

    def work() -> None:
        try:
            workshop.run(slow, 60.0)
        except RuntimeError as error:
            failed.append(str(error))

    threads = [threading.Thread(target=work) for _ in range(2)]
    for thread in threads:
        thread.start()
    time.sleep(0.3)
    begun = time.monotonic()
    workshop.close()
    for thread in threads:
        thread.join(PATIENCE)
    assert time.monotonic() - begun < 5.0
    assert failed == ["the workshop is closed"] * 2
    until = time.monotonic() + PATIENCE
    while there(worker):
        assert time.monotonic() < until
        time.sleep(0.05)


def test_without_workers_it_is_done_here() -> None:
    assert Workshop(0).run(os.getpid) == os.getpid()
    assert Workshop(0).run_among_many(os.getpid) == os.getpid()


def test_what_many_want_leaves_a_worker_to_who_asks_now(workshop: Workshop) -> None:
    workshop.run(os.getpid)
    many = [threading.Thread(target=workshop.run_among_many, args=(slow, 0.5)) for _ in range(4)]
    for one in many:
        one.start()
    time.sleep(0.1)
    begun = time.monotonic()
    workshop.run(os.getpid)
    waited = time.monotonic() - begun
    for one in many:
        one.join(PATIENCE)
    assert waited < 1.0  # the four take two seconds, one after another
