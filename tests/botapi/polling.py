"""getUpdates: long polling, and what the bot has confirmed."""

import time

from tests.botapi import facts
from tests.botapi.facts import Refusal, bad_request, from_json
from tests.botapi.faults import Fault, Kind
from tests.botapi.state import Json, World


def get_updates(world: World, args: dict[str, str], fault: Fault | None) -> list[Json]:
    """Return updates from `offset` on, waiting for the first one up to `timeout` seconds.

    Whoever already waits is refused with 409, as the real server does it: the newest poll wins.
    Two bots that poll by turns therefore both see conflicts, and a bot that was killed while it
    waited does not shut out its successor.
    """
    offset = _number(args, "offset", 0)
    limit = min(max(_number(args, "limit", facts.UPDATES_AT_ONCE), 1), facts.UPDATES_AT_ONCE)
    timeout = min(max(_number(args, "timeout", 0), 0), facts.LONG_POLL_SECONDS)
    with world.changed:
        if "allowed_updates" in args:
            world.allowed_updates = from_json(args["allowed_updates"] or "[]", "allowed updates")
        world.poll += 1
        mine = world.poll
        world.changed.notify_all()
        if offset:
            world.confirm(offset)
        again = world.confirmed_last if fault and fault.kind is Kind.AGAIN else []
        until = time.monotonic() + timeout
        while not (found := [*again, *world.updates][:limit]) and not world.closing:
            left = until - time.monotonic()
            if left <= 0.0 or not world.changed.wait(left):
                break
            if world.poll != mine:
                raise Refusal(409, facts.CONFLICT)
        twice = 2 if fault and fault.kind is Kind.TWICE else 1
        return [update for update in found for _ in range(twice)]


def _number(args: dict[str, str], name: str, default: int) -> int:
    try:
        return int(args.get(name) or default)
    except ValueError:
        raise bad_request(f"invalid value of {name}") from None
