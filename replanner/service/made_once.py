"""A file of a plan is made once, however many riders of a group it goes to."""

import asyncio
from collections import OrderedDict
from collections.abc import Awaitable, Callable
from datetime import datetime

from replanner.advice.briefing import Briefing
from replanner.post import PlanRef

Make = Callable[[PlanRef, Briefing], Awaitable[bytes]]
# The keys of tours whose riders had themselves erased may come again: a plan's instant does not.
_Key = tuple[PlanRef, datetime]


class MadeOnce:
    """Keeps the files made last, those asked for least recently dropped first.

    Parameters
    ----------
    plan : callable
        Returns a stored plan; raises ReplannerError if it is not kept any more.
    make : callable
        Makes the file of a plan; what it raises is raised to all who wait, and not kept.
    most : int
        How many files are kept.
    """

    def __init__(
        self, plan: Callable[[PlanRef], Awaitable[Briefing]], make: Make, most: int
    ) -> None:
        self._plan, self._make, self._most = plan, make, most
        self._files: OrderedDict[_Key, asyncio.Future[bytes]] = OrderedDict()

    async def of(self, ref: PlanRef) -> bytes:
        """Return the file of a plan."""
        plan = await self._plan(ref)
        key = (ref, plan.made_at)
        task = self._files.get(key)
        if task is None:
            task = asyncio.ensure_future(self._make(ref, plan))
            self._files[key] = task
            task.add_done_callback(lambda done: self._forget_failed(key, done))
        self._files.move_to_end(key)
        while len(self._files) > self._most:
            self._files.popitem(last=False)
        return await asyncio.shield(task)  # one who gives up does not take it from the others

    def _forget_failed(self, key: _Key, done: asyncio.Future[bytes]) -> None:
        if (done.cancelled() or done.exception() is not None) and self._files.get(key) is done:
            del self._files[key]
