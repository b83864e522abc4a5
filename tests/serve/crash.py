"""Bots killed at random instants while evenings go out and riders talk; the figures are printed.

`python -m tests.serve.crash --runs 300 [--seed 1] [--real 10]`. In each run two riders join, get
their plan and say words whose effect would show if one were lost or done twice. The chat service
answers 429 and 5xx, cuts connections before and after it has done its part, and gives updates
twice. The bot is killed by SIGKILL again and again at seeded instants, and started again. At the
end everything must have come to what the same words come to without any of it (`desk.attend`).

Plans are those of the real planner, made once and kept (`recorded`); in `--real` runs they are
made anew by worker processes.
"""

import argparse
import os
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import timedelta
from pathlib import Path
from random import Random
from unittest.mock import patch

from replanner import making
from replanner.advice.briefing import Briefing
from replanner.dialogue.book import book_of
from replanner.dialogue.events import Accept, EveningCame, Memory, Replan, RiderSaid, Say
from replanner.dialogue.kept import kept
from replanner.dialogue.state import State, begin
from replanner.people import Role
from replanner.service.desk import attend
from tests.botapi.faults import Kind
from tests.serve.alike import (
    AGAIN,
    ageless,
    apart,
    difference,
    files_repeated,
    repeats_in,
    same,
    undated_talk,
    unlike,
)
from tests.serve.bot_process import HASTE_VARIABLE
from tests.serve.harness import DUE, TOUR, Scene, scene, wait_until
from tests.serve.nursery import Nursery
from tests.serve.recorded import PLANS_VARIABLE, recorded

DAY = (DUE + timedelta(days=1)).date()
RIDERS = (7001, 7002)
# Of every call; the last two of every call for updates only.
CHANCES = {
    Kind.TOO_MANY: 0.04,
    Kind.INTERNAL: 0.04,
    Kind.BAD_GATEWAY: 0.02,
    Kind.CUT_BEFORE: 0.05,
    Kind.CUT_AFTER: 0.05,
    Kind.TWICE: 0.2,
    Kind.AGAIN: 0.1,
}
# After these a message may be there without our knowing.
_DOUBTFUL = (Kind.INTERNAL, Kind.BAD_GATEWAY, Kind.CUT_BEFORE, Kind.CUT_AFTER)
# Each run says some of these in this order or another. Done twice, "undo" takes back one more
# word, and a plan asked for twice counts twice; lost, each is missed.
WORDS = (
    "skip gannet stack",
    "leave at 10",
    "keep my order",
    "undo",
    "ok",
    "undo",
    "why",
    "skip brindle loop",
    "swap hask saddle and quern point loop",
    "ok",
)


@dataclass(frozen=True, kw_only=True)
class Play:
    """What happens in a run.

    Parameters
    ----------
    words : tuple of str
        What the riders may say.
    never_said : str
        Told to the comparison alone, which must see it.
    real : bool
        With the real planner.
    """

    words: tuple[str, ...] = WORDS
    never_said: str = ""
    real: bool = False


@dataclass
class Figures:
    """What the runs came to."""

    runs: int = 0
    kills: int = 0
    starts: int = 0
    words: int = 0
    accepts: int = 0
    letters: int = 0
    repeats: int = 0
    files: int = 0
    files_repeated: int = 0
    marked_first: int = 0
    faults: Counter[str] = field(default_factory=Counter)
    sound: int = 0
    failed: list[str] = field(default_factory=list)
    seconds: float = 0.0

    def told(self) -> str:
        """Return the figures in words."""
        return "\n".join(
            (
                f"runs {self.runs}, of {self.seconds:.0f} s; kills {self.kills}; "
                f"lives {self.starts}; come to something else {len(self.failed)}",
                f"databases whole (PRAGMA integrity_check) {self.sound}",
                f"of the others: words said {self.words}, of them accepts {self.accepts}, "
                "none lost, none twice;",
                f"messages delivered {self.letters}; visible repeats {self.repeats}, all marked; "
                f"marked without being one {self.marked_first}",
                f"pictures and GPX delivered {self.files}; visible repeats {self.files_repeated}, "
                "all marked, none missing",
                f"faults of the service: {dict(sorted(self.faults.items()))}",
            )
        )


class Script:
    """What one rider says, and what it comes to when nothing goes wrong."""

    def __init__(self, chat: int, dice: Random, words: Sequence[str]) -> None:
        self.chat = chat
        self.left = [word for word in words if dice.random() < 0.7] or ["ok"]
        if dice.random() < 0.3:
            dice.shuffle(self.left)
        self.said: list[str] = []

    def next_word(self, at: Scene) -> None:
        """Say the next word."""
        word = self.left.pop(0)
        self.said.append(word)
        at.says(self.chat, word)


def without_a_fault(script: Script, at: Scene, tour_key: str) -> tuple[State, list[str], int]:
    """Return what the words come to, what was said to the rider, and how often he accepted."""
    tour = making.read_tour(TOUR)
    state = begin(tour_key, book_of(tour), DAY, memory=Memory(), accepted=None)
    state = replace(state, own_caution_shown=False, cautions_shown=False)
    making._means.cache_clear()  # it holds another run's forecast
    plan = recorded(making.plan)
    present = at.present()

    def planner(request: Replan) -> tuple[Briefing, bool]:
        return plan(making.Order(tour_text=TOUR, request=request, now=present)), True

    said, accepts = [], 0
    events = [RiderSaid(text=word, sent=present) for word in script.said]
    for event in (EveningCame(day=DAY, now=present, note=""), *events):
        state, upshots = attend(state, event, planner)
        state = replace(state, history=kept(state).history)  # the bot forgets older turns as well
        said += [upshot.text for upshot in upshots if isinstance(upshot, Say)]
        accepts += sum(isinstance(upshot, Accept) for upshot in upshots)
    return state, said, accepts


def one_run(seed: int, nursery: Nursery, plans: Path, figures: Figures, play: Play) -> None:
    """Kill and start again until all is said; then compare."""
    dice, real = Random(seed), play.real
    begins = DUE + timedelta(seconds=dice.uniform(-3.0, 1.0))
    scripts = [Script(chat, dice, play.words) for chat in RIDERS]
    with (
        _folder() as folder,
        scene(
            folder,
            begins=begins,
            environment={HASTE_VARIABLE: "1"} | ({} if real else {PLANS_VARIABLE: str(plans)}),
            workers=2 if real else 0,
            lease_seconds=10.0 if real else 3.0,
            look_every_seconds=0.2,
        ) as at,
    ):
        groups = {}
        for script in scripts:
            groups[script.chat], (code,) = at.invite(Role.LEADER)
            at.says(script.chat, f"/start {code}")
        at.server.faults.by_chance(seed, CHANCES)
        kills = dice.randint(1, 4)
        for _ in range(kills):
            with at.forked(nursery):
                _talk(at, scripts, dice, for_seconds=dice.uniform(0.05, 6.0 if real else 1.6))
        figures.kills += kills
        figures.starts += kills + 1
        at.server.faults.none()
        with at.forked(nursery):
            over = time.monotonic() + 60.0
            while any(script.left for script in scripts):
                assert time.monotonic() < over, "a plan never came"
                _talk(at, scripts, dice, for_seconds=0.1)
            _settled(at, scripts)
        figures.faults.update(at.server.faults.drawn)
        scripts[0].said += [play.never_said] if play.never_said else []
        try:
            for script in scripts:
                _compare(at, script, groups[script.chat], plans, figures, doubts=kills)
            assert at.sound() == "ok"
            figures.sound += 1
        except AssertionError:
            if not play.never_said:
                shutil.copytree(
                    folder, Path(tempfile.mkdtemp(prefix=f"crash-{seed}-")), dirs_exist_ok=True
                )
            raise


def _talk(at: Scene, scripts: list[Script], dice: Random, *, for_seconds: float) -> None:
    """Let riders who have their plan say words now and then, for a while."""
    until = time.monotonic() + for_seconds
    while time.monotonic() < until:
        ready = [one for one in scripts if one.left and _has_plan(at, one.chat)]
        if ready:
            dice.choice(ready).next_word(at)
        time.sleep(min(dice.uniform(0.0, 0.3), max(0.0, until - time.monotonic())))


def _has_plan(at: Scene, chat: int) -> bool:
    return any("Leave " in text for text in at.texts(chat))


def _settled(at: Scene, scripts: list[Script]) -> None:
    with at.store() as store:

        def nothing_waits() -> bool:
            counts = store.counts()
            due = all(_has_plan(at, one.chat) for one in scripts)
            waits = counts["arrivals waiting"] + counts["letters waiting"]
            return due and not at.server.pending and not waits

        wait_until(nothing_waits, "all is dealt with and sent", 60.0)


def _compare(
    at: Scene, script: Script, group: int, plans: Path, figures: Figures, *, doubts: int
) -> None:
    tour_key = _tour_key(at, group)
    with patch.dict(os.environ, at.environment | {PLANS_VARIABLE: str(plans)}):
        state, said, accepts = without_a_fault(script, at, tour_key)
    with at.store() as store:
        counts = store.counts()
        member = store.member_of(script.chat)
        assert member is not None
        talk = store.talk(tour_key, member.id)
        accepted = store.accepted_plan(tour_key, DAY)
    assert counts["letters given up"] == counts["letters useless"] == 0, counts
    assert talk is not None
    delivered = at.texts(script.chat)
    plain = [ageless(text) for text in delivered]
    wanted_texts = [ageless(text) for text in said]
    repeats = repeats_in(plain[1:], wanted_texts, plain[0])
    assert repeats is not None, f"{script.said}\n{difference(plain[1:], wanted_texts)}"
    wanted = state.accepted.briefing if state.accepted else None
    mine, its = same(accepted), same(wanted)
    assert mine == its, f"another plan is accepted: {apart(mine, its)}"
    other = unlike(undated_talk(talk[0]), undated_talk(kept(state)))
    assert not other, f"the conversation has come to something else: {other}"
    files = [one for one in at.server.sent_to(script.chat) if one.kind != "text"]
    files_again = files_repeated(files)
    assert files_again is not None, f"files: {[(one.kind, one.text) for one in files]}"
    faults = sum(at.server.faults.drawn[kind] for kind in _DOUBTFUL)
    assert repeats + files_again <= doubts + faults
    figures.words += len(script.said)
    figures.accepts += accepts
    figures.letters += len(delivered)
    figures.repeats += repeats
    figures.files += len(files)
    figures.files_repeated += files_again
    figures.marked_first += sum(text.startswith(AGAIN) for text in delivered) - repeats


def _tour_key(at: Scene, group: int) -> str:
    with at.store() as store:
        found = store.group(group)
        assert found is not None
        return found.tour_key


@contextmanager
def _folder() -> Iterator[Path]:
    with tempfile.TemporaryDirectory(prefix="crash-") as name:
        yield Path(name)


def runs(
    seeds: range,
    nursery: Nursery,
    plans: Path,
    play: Play = Play(),
    *,
    real: int = 0,
    loud: bool = False,
) -> Figures:
    """Do a run for each seed, the first `real` ones with the real planner."""
    figures, begun = Figures(), time.monotonic()
    for number, seed in enumerate(seeds):
        try:
            one_run(seed, nursery, plans, figures, replace(play, real=number < real))
        except AssertionError as error:
            figures.failed.append(f"seed {seed}: {error}")
            if loud:
                print(figures.failed[-1], flush=True)  # noqa: T201 - a script
        figures.runs += 1
        figures.seconds = time.monotonic() - begun
        if loud and number % 20 == 19:
            print(figures.told(), flush=True)  # noqa: T201
    return figures


def main() -> None:
    """Run as many as asked for and print what came of it."""
    given = argparse.ArgumentParser(prog="python -m tests.serve.crash", description=__doc__)
    given.add_argument("--runs", type=int, default=300)
    given.add_argument("--seed", type=int, default=1)
    given.add_argument("--real", type=int, default=0, help="so many with the real planner")
    args = given.parse_args()
    with _folder() as plans, Nursery() as nursery:
        seeds = range(args.seed, args.seed + args.runs)
        figures = runs(seeds, nursery, plans, real=args.real, loud=True)
    print(figures.told())  # noqa: T201
    sys.exit(1 if figures.failed else 0)


if __name__ == "__main__":
    main()
