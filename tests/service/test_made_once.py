"""A file of a plan is made once for all who get it; what failed is made again."""

import asyncio
from dataclasses import replace
from datetime import timedelta

import pytest

from replanner.advice.briefing import Briefing
from replanner.errors import ReplannerError
from replanner.post import PlanRef
from replanner.service.made_once import MadeOnce
from tests.dialogue.evening import DAY
from tests.store.things import PLAN


class Drawer:
    """Draws slowly, counts, and fails when told to."""

    def __init__(self) -> None:
        self.kept: dict[PlanRef, Briefing] = {}
        self.made: list[PlanRef] = []
        self.broken = False
        self.go = asyncio.Event()

    async def plan(self, ref: PlanRef) -> Briefing:
        if ref not in self.kept:
            raise ReplannerError("not kept any more")
        return self.kept[ref]

    async def make(self, ref: PlanRef, plan: Briefing) -> bytes:
        self.made.append(ref)
        await self.go.wait()
        if self.broken:
            raise ReplannerError("no ink")
        return f"{ref.version} {plan.made_at}".encode()


def ref(version: int) -> PlanRef:
    return PlanRef(tour_key="group 1", day=DAY, version=version)


def test_riders_of_a_group_share_one_drawing_and_the_oldest_is_dropped() -> None:
    async def story() -> None:
        drawer = Drawer()
        drawer.kept = {ref(n): PLAN for n in (1, 2, 3)}
        files = MadeOnce(drawer.plan, drawer.make, most=2)
        waiting = [asyncio.create_task(files.of(ref(1))) for _ in range(3)]
        await asyncio.sleep(0.01)
        waiting[0].cancel()  # one who is gone takes the drawing from nobody
        drawer.go.set()
        assert len({await one for one in waiting[1:]}) == 1
        assert drawer.made == [ref(1)]
        await files.of(ref(2))
        await files.of(ref(1))
        await files.of(ref(3))  # 2 was asked for least recently
        await files.of(ref(1))
        assert drawer.made == [ref(1), ref(2), ref(3)]
        await files.of(ref(2))
        assert drawer.made[-1] == ref(2)

    asyncio.run(story())


def test_what_failed_is_made_again_and_an_erased_plan_is_not_shown() -> None:
    async def story() -> None:
        drawer = Drawer()
        drawer.go.set()
        drawer.kept, drawer.broken = {ref(1): PLAN}, True
        files = MadeOnce(drawer.plan, drawer.make, most=2)
        with pytest.raises(ReplannerError, match="no ink"):
            await files.of(ref(1))
        drawer.broken = False
        first = await files.of(ref(1))
        # A group that is gone leaves its number to another: its plan is drawn anew.
        drawer.kept[ref(1)] = replace(PLAN, made_at=PLAN.made_at + timedelta(days=1))
        assert await files.of(ref(1)) != first
        drawer.kept.clear()
        with pytest.raises(ReplannerError, match="not kept"):
            await files.of(ref(1))

    asyncio.run(story())
