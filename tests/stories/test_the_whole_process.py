"""One evening through the bot as it is served: a process, its workers, the chat service, a kill.

Tour and weather are INVENTED. The same words at the terminal come to the same plan.
"""

from datetime import timedelta
from pathlib import Path

import pytest

from replanner.people import Role
from tests.botapi.state import Delivery
from tests.serve.bot_process import HASTE_VARIABLE
from tests.serve.harness import DUE, PATIENCE, TOUR, Scene, scene, wait_until
from tests.stories.ridden import FRIDAY, ByBot, ByTerminal, Teller

RIDER = 4001
SOON = DUE - timedelta(seconds=4)


def with_text(at: Scene, part: str) -> Delivery:
    found: Delivery = at.server.wait_for_text(RIDER, part, PATIENCE)
    return found


def test_an_evening_through_the_whole_process(tmp_path: Path, teller: Teller) -> None:
    (tmp_path / "scene").mkdir()
    haste = {HASTE_VARIABLE: "1"}  # a tenth of a chat's rests between two messages
    with scene(
        tmp_path / "scene", begins=SOON, workers=1, lease_seconds=2.0, environment=haste
    ) as at:
        group, (code,) = at.invite(Role.LEADER)
        at.says(RIDER, f"/start {code}")
        with at.bot():
            plan = with_text(at, "SWAP. Salt Causeway first")
            wait_until(lambda: len(files(at)) == 2, "the picture and the track")
            at.says(RIDER, "what if I leave at 9:30")
            with_text(at, "Leave 09:30, not 09:40")
        # The power goes while the answer is read. What is said meanwhile waits for the next life.
        at.says(RIDER, "ok")
        with at.bot() as again:
            with_text(at, "Accepted.")
            at.server.user_presses(RIDER, plan.message_id, plan.buttons[0]["callback_data"])
            with_text(at, "That was an older plan.")
            assert again.stop() == 0
        assert at.sound() == "ok"
        assert sorted(files(at)) == ["document", "photo"]
        with at.store() as store:
            found = store.group(group)
            assert found is not None
            assert found.tour_text == TOUR
            served = store.accepted_plan(found.tour_key, FRIDAY)
    assert served is not None

    def typed(rider: ByBot | ByTerminal) -> None:
        rider.until("Thu 19:30")
        rider.says("what if I leave at 9:30")
        rider.says("ok")

    told = teller.both_ways(typed).outcome().accepted[FRIDAY]
    assert told is not None
    assert served.departure == told.departure
    assert [(leg.id, leg.start, leg.end) for leg in served.legs] == [
        (leg.id, leg.start, leg.end) for leg in told.legs
    ]
    # the bot plans a few seconds before the hour: forecasts are that much less sure
    assert served.value_minutes == pytest.approx(told.value_minutes, abs=0.01)


def files(at: Scene) -> list[str]:
    return [one.kind for one in at.server.sent_to(RIDER) if one.kind != "text"]
