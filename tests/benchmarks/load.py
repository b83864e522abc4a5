"""A full house: 1,000 riders due at one hour, the chat service refusing more than its limits.

`python -m tests.benchmarks.load [--riders 1000] [--ahead 60] [--real]`. The chat service runs in a
process of its own; two worker processes make what there is to make. Without `--real` they take
plans from one made before (`tests.serve.recorded`): what is measured is then preparing, drawing,
keeping and sending, not planning. With it (`--ahead 1200`) they plan from twenty minutes before the
hour, as in earnest. Meanwhile one more rider asks why again and again. Prints how long after the
hour the last plan and the last message came, against what 30 messages a second allow, the memory
of all processes of the bot, and how long answers took.
"""
# ruff: noqa: T201 - a script

import argparse
import os
import statistics
import tempfile
import time
from contextlib import ExitStack
from datetime import timedelta
from pathlib import Path
from threading import Event, Thread

from replanner.people import Role
from replanner.post import DueKind
from replanner.store.store import Store
from tests.botapi.control import ApiProcess
from tests.serve.harness import DUE, TOUR, BotProcess, Scene, scene
from tests.serve.recorded import PLANS_VARIABLE

EACH = 4  # riders a group
ASKER = 900_001
LIMIT_PER_SECOND = 30.0
PATIENCE = 600.0


def fill(at: Scene, riders: int) -> None:
    """Let groups of four in, as if they had joined before; their evening is to be worked out."""
    defaults = ("Pacific/Auckland", DUE.time(), DUE.time(), DUE.time())
    with at.store() as store, store.work() as work:
        now = at.present()
        for first in range(0, riders, EACH):
            group = work.new_group(TOUR).id
            for chat in range(first + 1, first + 1 + EACH):
                role = Role.LEADER if chat == first + 1 else Role.RIDER
                code = work.invite(group, role, now + timedelta(days=1))
                member = work.join(code, chat, now, defaults)
                assert member is not None
                work.set_due(DueKind.EVENING, member.id, now)


def memory_mb(pid: int) -> list[int]:
    """Return the memory of a process and of all it has begun, shared pages shared out. [MB]

    Linux only: `Pss` in /proc/<pid>/smaps_rollup (kernel documentation, filesystems/proc).
    """
    found = []
    for one in (pid, *below(pid)):
        try:
            told = Path(f"/proc/{one}/smaps_rollup").read_text(encoding="ascii")
        except OSError:  # it has just ended
            continue
        kilobytes = next(line.split()[1] for line in told.splitlines() if line.startswith("Pss:"))
        found.append(round(int(kilobytes) / 1024))
    return found


def below(pid: int) -> list[int]:
    """Return the processes a process has begun, and theirs."""
    texts = [path.read_text("ascii") for path in Path(f"/proc/{pid}/task").glob("*/children")]
    children = [int(child) for text in texts for child in text.split()]
    return [*children, *(one for child in children for one in below(child))]


def cpu_seconds(pid: int) -> float:
    """Return what a process and all it has begun have used of the processors so far. [s]

    Fields utime and stime of /proc/<pid>/stat (proc(5)).
    """
    ticks = 0
    for one in (pid, *below(pid)):
        try:
            told = Path(f"/proc/{one}/stat").read_text(encoding="ascii")
        except OSError:
            continue
        ticks += sum(int(field) for field in told.rsplit(")")[1].split()[11:13])
    return ticks / os.sysconf("SC_CLK_TCK")


class Watch(Thread):
    """Asks why and looks at memory and processor until told to stop."""

    def __init__(self, at: Scene, bot: BotProcess) -> None:
        super().__init__(daemon=True)
        self._at, self._bot = at, bot
        self.over = Event()
        self.most_mb: list[int] = []
        self.answers: list[tuple[float, float]] = []  # when asked, how long it took [s]
        self.cpu: list[tuple[float, float]] = []  # when looked, used so far [s]

    def run(self) -> None:
        while not self.over.wait(4.0):  # more often is refused
            self.cpu.append((time.monotonic(), cpu_seconds(self._bot.pid)))
            self.most_mb = max(self.most_mb, memory_mb(self._bot.pid), key=sum)
            had, asked = len(self._at.texts(ASKER)), time.monotonic()
            self._at.says(ASKER, "why")
            self._at.server.wait_for_sent(ASKER, had + 1, 60.0)
            self.answers.append((asked, time.monotonic() - asked))


def planned(store: Store) -> set[str]:
    """Return the riders whose plan is kept, sent or not: the keys of their letters name them."""
    return {key.split(":")[1] for key in store.posted("plan:")}


def measure(riders: int, ahead: float, *, real: bool) -> None:
    """Run one evening and print its figures."""
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="load-")))
        plans = folder / "plans"
        plans.mkdir()
        server = stack.enter_context(ApiProcess(folder / "journal", limits=True))
        for chat in (*range(1, riders + 1), ASKER):
            server.pull("add_user", chat=chat)
        at = stack.enter_context(
            scene(
                folder,
                begins=DUE - timedelta(seconds=ahead),
                server=server,
                environment={} if real else {PLANS_VARIABLE: str(plans)},
                workers=2,
                lease_seconds=60.0,
                look_every_seconds=5.0,
            )
        )
        _, (code,) = at.invite(Role.LEADER)
        fill(at, riders)
        bot = stack.enter_context(at.bot())
        at.says(ASKER, f"/start {code}")
        server.wait_for_sent(ASKER, 1, 60.0)
        at.says(ASKER, "plan")
        server.wait_for_sent(ASKER, 3, 60.0)
        watch = Watch(at, bot)
        watch.start()
        with at.store() as store:
            prepared = None
            until = time.monotonic() + ahead + PATIENCE
            while time.monotonic() < until:
                if prepared is None and len(planned(store)) >= riders:
                    prepared = at.present() - DUE
                if prepared is not None and store.counts()["letters waiting"] <= 1:
                    break
                time.sleep(1.0)
        all_sent = at.present() - DUE
        watch.over.set()
        watch.join(60.0)
        due = time.monotonic() - (at.present() - DUE).total_seconds()
        report(at, watch, due, riders, prepared, all_sent)


def report(
    at: Scene,
    watch: Watch,
    due: float,
    riders: int,
    prepared: timedelta | None,
    all_sent: timedelta,
) -> None:
    """Print what was measured."""
    sent = [one for one in at.server.sent if one.chat_id != ASKER]
    plans: dict[int, float] = {}
    for one in sent:
        plans.setdefault(one.chat_id, one.at - due)
    allowed = riders / LIMIT_PER_SECOND * 1.1
    took = sorted(seconds for asked, seconds in watch.answers if asked >= due)
    before = sorted(seconds for asked, seconds in watch.answers if asked < due)
    print(f"plans {len(plans)} of {riders}; prepared at {prepared} from the hour")
    allowed_all = len(sent) / LIMIT_PER_SECOND * 1.1
    print(f"last plan {max(plans.values()):.1f} s after the hour (allowed {allowed:.1f} s)")
    print(
        f"all {len(sent)} messages {all_sent.total_seconds():.1f} s after the hour "
        f"(allowed {allowed_all:.1f} s)"
    )
    print(f"first plan {min(plans.values()):.1f} s; refused with 429: {_refused(at)}")
    print(f"memory {watch.most_mb}, together {sum(watch.most_mb)} MB (allowed 400)")
    until_due = [used for at, used in watch.cpu if at <= due]
    first, at_the_hour, last = watch.cpu[0][1], until_due[-1], watch.cpu[-1][1]
    print(
        f"processor {first:.1f} s to start, {at_the_hour - first:.1f} s before the hour, "
        f"{last - at_the_hour:.1f} s after it; "
        f"load average {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors"
    )
    for when, some in (("while preparing", before), ("while sending", took)):
        if some:
            high = some[min(len(some) - 1, int(0.95 * len(some)))]
            middle = statistics.median(some)
            print(
                f"{len(some)} answers {when}: median {middle:.2f}, p95 {high:.2f}, "
                f"worst {some[-1]:.2f} s (allowed 1)"
            )


def _refused(at: Scene) -> int:
    calls = at.server.pull("calls", method="sendMessage")
    return int(calls) - len([one for one in at.server.sent if one.kind == "text"])


def main() -> None:
    """Measure what is asked for."""
    given = argparse.ArgumentParser(prog="python -m tests.benchmarks.load", description=__doc__)
    given.add_argument("--riders", type=int, default=1000)
    given.add_argument("--ahead", type=float, default=60.0, help="seconds before the hour")
    given.add_argument("--real", action="store_true", help="with the real planner")
    args = given.parse_args()
    measure(args.riders, args.ahead, real=args.real)


if __name__ == "__main__":
    main()
