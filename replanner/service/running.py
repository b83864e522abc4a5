"""The turning of the wheels: arrivals to the office, what is due to the rounds, until told to stop.

Everything that blocks runs in threads; the loop itself only hands out. What is handed out twice by
mistake is kept once (see `dealing`), so nothing here has to be clever.
"""

import asyncio
import logging
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import suppress
from datetime import datetime, timedelta
from functools import partial
from typing import TypeVar

from replanner.errors import ConflictError, StoreError
from replanner.people import ChatId
from replanner.ports import PostOffice
from replanner.post import Arrived, Due
from replanner.service.office import Office
from replanner.service.rounds import Rounds

T = TypeVar("T")

_LOG = logging.getLogger(__name__)

_ARRIVALS_AT_A_TIME = 64
_LOOK_AGAIN_SECONDS = 1.0
_TRIES = 3
_CRIES_AT_ONCE = 4  # more of them wait for each other, and for nothing else


class Running:
    """Hands arrivals and what is due to those who deal with them.

    Parameters
    ----------
    store : PostOffice
    office : Office
    rounds : Rounds
    threads : Executor
        Where they work.
    now : callable
    lease : timedelta
        For how long another process leaves to us what was due and we have taken on; if it takes
        longer and both do it, one of them keeps what it did.
    hands : int
        How many things due are done at a time: as many as are done well within the lease, since
        what a killed process had taken on waits until that is over.
    """

    def __init__(
        self,
        store: PostOffice,
        office: Office,
        rounds: Rounds,
        threads: Executor,
        now: Callable[[], datetime],
        *,
        lease: timedelta,
        hands: int,
    ) -> None:
        self._store, self._office, self._rounds = store, office, rounds
        self._threads, self._now = threads, now
        self._lease, self._hands = lease, hands
        self._failures: Counter[int] = Counter()
        self._doing: set[asyncio.Task[None]] = set()
        self._busy, self._more_is_due = 0, False
        self._cries = ThreadPoolExecutor(_CRIES_AT_ONCE, thread_name_prefix="cries")
        self._crying: dict[int, asyncio.Task[None]] = {}
        self._looking = asyncio.Lock()
        self.arrived = asyncio.Event()  # set by who receives
        self.posted = asyncio.Event()  # waited for by who sends
        self.last_round: datetime | None = None

    async def arrivals(self, stop: asyncio.Event) -> None:
        """Deal with arrivals until told to stop: of each chat one after another."""
        in_hand: dict[ChatId, asyncio.Task[None]] = {}
        while not stop.is_set():
            self.arrived.clear()
            for arrived in await self._waiting():
                if arrived.chat not in in_hand and arrived.number not in self._crying:
                    task = asyncio.create_task(self._handle(arrived))
                    in_hand[arrived.chat] = task
                    task.add_done_callback(partial(self._free, in_hand, arrived.chat))
            await _either(self.arrived, stop, _LOOK_AGAIN_SECONDS)
        await asyncio.gather(*in_hand.values(), *self._crying.values(), return_exceptions=True)
        self._cries.shutdown(wait=False)

    def cried(self, arrived: Sequence[Arrived]) -> None:
        """Deal at once with those of what has just been put on record that call for help.

        They wait for no plan, not even for one of the same chat: what is worked out meanwhile
        from how things stood before is not kept (`ConflictError`), and is looked at anew.
        """
        for one in arrived:
            if one.number not in self._crying and self._office.calls_for_help(one):
                task = self._crying[one.number] = asyncio.create_task(self._hear(one))
                task.add_done_callback(partial(self._heard, one.number))

    async def _hear(self, arrived: Arrived) -> None:
        loop = asyncio.get_running_loop()
        for _ in range(_TRIES):
            try:
                return await loop.run_in_executor(self._cries, self._office.handle, arrived)
            except ConflictError:  # the chat's plan was kept first, or it is a copy
                continue
            except Exception:  # noqa: BLE001 - its turn comes yet
                _LOG.exception("call for help %d failed; tried again in its turn", arrived.number)
                return None
        return None

    def _heard(self, number: int, _: object) -> None:
        self._crying.pop(number, None)
        self.posted.set()
        self.arrived.set()

    async def round(self) -> None:
        """Take on what is due now, as much as there are hands for; it is not waited for.

        While more is due than that, the next look comes as soon as a hand is free.
        """
        async with self._looking:
            hands = self._hands - self._busy
            if hands > 0:
                dues = await self._in_thread(self._store.claim_due, self._now(), self._lease, hands)
                self._more_is_due = len(dues) == hands
                for due in dues:
                    self._busy += 1
                    task = asyncio.create_task(self._do(due))
                    self._doing.add(task)
                    task.add_done_callback(self._doing.discard)
            self.last_round = self._now()

    async def _waiting(self) -> tuple[Arrived, ...]:
        try:
            return await self._in_thread(self._store.waiting, _ARRIVALS_AT_A_TIME)
        except StoreError as error:
            _LOG.warning("what arrived cannot be looked at: %s", error)
            return ()

    def _free(self, in_hand: dict[ChatId, asyncio.Task[None]], chat: ChatId, _: object) -> None:
        in_hand.pop(chat, None)
        self.arrived.set()
        self.posted.set()

    async def _handle(self, arrived: Arrived) -> None:
        try:
            await self._in_thread(self._office.handle, arrived)
        except ConflictError:
            _LOG.info("arrival %d: another was quicker, looked at anew", arrived.number)
        except StoreError as error:  # no fault of the rider's word: it waits
            _LOG.warning("arrival %d cannot be kept yet: %s", arrived.number, error)
            await asyncio.sleep(_LOOK_AGAIN_SECONDS)
        except Exception:  # noqa: BLE001 - whatever one rider sends, the others are heard
            _LOG.exception("arrival %d failed", arrived.number)
            await self._failed(arrived)

    async def _failed(self, arrived: Arrived) -> None:
        self._failures[arrived.number] += 1
        if self._failures[arrived.number] < _TRIES:
            return
        try:
            await self._in_thread(self._office.give_up, arrived)
        except (ConflictError, StoreError) as error:
            _LOG.warning("arrival %d cannot be laid aside yet: %s", arrived.number, error)
        else:
            del self._failures[arrived.number]

    async def _do(self, due: Due) -> None:
        try:
            await self._done_by_us(due)
        except ConflictError:
            _LOG.info("%s of %d: another was quicker", due.kind, due.owner)
        except Exception:  # noqa: BLE001 - whatever fails for one, the others are served
            _LOG.exception("%s of %d failed; tried again after the lease", due.kind, due.owner)
        self._busy -= 1
        self.posted.set()
        if self._more_is_due:
            try:
                await self.round()
            except StoreError as error:
                _LOG.warning("what is due cannot be looked at: %s", error)

    async def _done_by_us(self, due: Due) -> None:
        """Do what is due, and anew if a rider said something meanwhile: he waits for no lease."""
        for _ in range(_TRIES - 1):
            with suppress(ConflictError):
                return await self._in_thread(self._rounds.do, due)
        return await self._in_thread(self._rounds.do, due)

    async def _in_thread(self, work: Callable[..., T], *args: object) -> T:
        return await asyncio.get_running_loop().run_in_executor(self._threads, work, *args)


async def _either(one: asyncio.Event, other: asyncio.Event, seconds: float) -> None:
    """Wait until one of two events happens, or the time is over."""
    waits = [asyncio.ensure_future(event.wait()) for event in (one, other)]
    await asyncio.wait(waits, timeout=seconds, return_when=asyncio.FIRST_COMPLETED)
    for wait in waits:
        wait.cancel()
