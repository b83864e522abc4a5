"""The token stays out of logs and of the state, whatever goes wrong: a whole bot at DEBUG.

Token form: core.telegram.org/bots/api#authorizing-your-bot.
"""

from datetime import timedelta
from pathlib import Path

from replanner.people import Role
from tests.botapi.faults import Fault, Kind
from tests.serve.harness import DUE, scene, wait_until

CHAT, GUEST = 7_400_000_001, 7_400_000_002


def test_no_token_and_no_words_in_a_debug_run(tmp_path: Path) -> None:
    with scene(
        tmp_path, begins=DUE - timedelta(hours=2), environment={"TEST_LOG_LEVEL": "DEBUG"}
    ) as place:
        _, (code,) = place.invite(Role.LEADER)
        kinds = (Kind.INTERNAL, Kind.BAD_GATEWAY, Kind.CUT_BEFORE, Kind.CUT_AFTER)
        place.server.world.faults.then(*(Fault(kind, "sendmessage") for kind in kinds))
        with place.bot() as bot:
            place.says(CHAT, code)
            place.says(GUEST, "xylophone")
            place.says(GUEST, "xylophone again")
            wait_until(lambda: len(place.texts(CHAT)) >= 1, "a welcome")
            place.says(CHAT, "quernhousewords")
            wait_until(lambda: len(place.texts(CHAT)) >= 2, "an answer")
            assert bot.stop() == 0
            log = bot.told
        secret = place.server.token.partition(":")[2]
        assert "httpx" in log
        assert "[token]" in log
        for hidden in (secret, "xylophone", "quernhousewords", code):
            assert hidden not in log
        for path in tmp_path.rglob("*"):
            if path.is_file():
                assert secret.encode() not in path.read_bytes(), path
        assert len([said for said in place.texts(GUEST) if "private" in said]) <= 1
