"""The command line: what a rider types, what is printed, how it ends.

Exit status: 0 done, 1 the answer is no, 2 bad input or no way to go on (one line on stderr).
"""

import atexit
import gc
import json
import os
import sys
import tempfile
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import click

from replanner import operator
from replanner.advice.as_json import as_json
from replanner.advice.briefing import Briefing, Decision
from replanner.advice.day_sheet import day_sheets
from replanner.advice.day_sheet_json import day_sheets_json
from replanner.advice.day_sheet_text import day_sheet_text
from replanner.advice.text import message
from replanner.advice.words import words_for
from replanner.channels.terminal import Hands, converse, read_lines
from replanner.clock import require_aware
from replanner.dialogue.book import book_of
from replanner.dialogue.events import Replan
from replanner.errors import InputError, ReplannerError
from replanner.files.raw import read_raw, write_bytes, write_text
from replanner.hazards.party import looser_limits
from replanner.planning.day_search import SearchResult, result_as_json, solve
from replanner.planning.problem import DayProblem
from replanner.planning.problem_file import read_problem, write_problem
from replanner.service.group_plans import planner_for
from replanner.service.one_rider import OneRider
from replanner.told import BAD, rider_errors
from replanner.trip.model import Tour
from replanner.wiring import House, checked_tour, demo_house, no_such_day, own_house

NO = 1

_FORMAT = click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True
)
_TOUR = click.argument("tour", type=click.Path(path_type=Path))


class _Day(click.ParamType[date]):
    name = "YYYY-MM-DD"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        try:
            return date.fromisoformat(value)
        except ValueError:
            self.fail(f"{value!r} is no date; write it like 2027-04-02", param, ctx)


class _Moment(click.ParamType[datetime]):
    name = "ISO-TIME"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> datetime:
        try:
            return require_aware("now", datetime.fromisoformat(value))
        except ValueError:
            self.fail(f"{value!r} is no time with offset; 2027-04-01T19:30+13:00 is", param, ctx)


_DATE = click.option("--date", "day", type=_Day(), help="Day to plan; the next one if left out.")
_NOW = click.option("--now", type=_Moment(), help="Plan as if it were this moment (a replay).")


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
def main() -> None:
    """Plan tomorrow's ride by the weather, the daylight and the road.

    Advice only: you decide, on what you see. Signs, closures, police and local law come first.
    """
    # Going out, Python searches all that the libraries made for rubbish: most of a second, for a
    # process that is over. What must be closed has been closed by then.
    atexit.register(gc.freeze)


@main.command(epilog="Example: printf 'why\\nok\\n' | replanner demo --date 2027-04-03")
@click.option("--date", "day", type=_Day(), default="2027-04-02", show_default=True)
def demo(day: date) -> None:
    """Live one evening of an invented tour, offline: the plan, then your words."""
    with (
        rider_errors(),
        tempfile.TemporaryDirectory() as folder,
        demo_house(Path(folder) / "demo.sqlite", day) as house,
    ):
        click.echo("INVENTED tour and weather: a demonstration, nowhere to ride.\n")
        _talk(house, day)


@main.command(epilog="Example: replanner check my_tour.toml")
@_TOUR
@_FORMAT
def check(tour: Path, form: str) -> None:
    """Check a tour file: every mistake at once, or each day's hours, daylight and slack."""
    with rider_errors():
        settings, limits, loaded = checked_tour(tour)
        for idle in looser_limits(loaded.riders, limits):
            click.echo(idle, err=True)
        sheets = day_sheets(loaded, settings.speeds, settings.detour_factor)
        if form == "json":
            _echo_json(day_sheets_json(sheets, loaded.zone))
        else:
            click.echo(day_sheet_text(sheets, loaded, words_for(settings.language)))


@main.command(epilog="Example: replanner plan my_tour.toml --date 2027-04-02 --format json")
@_TOUR
@_DATE
@_NOW
@_FORMAT
@click.option(
    "--problem",
    "dump",
    type=click.Path(path_type=Path),
    help="Also write the day as a problem file for replanner solve.",
)
def plan(tour: Path, day: date | None, now: datetime | None, form: str, dump: Path | None) -> None:
    """Print one evening's plan, once."""
    with rider_errors(), own_house(tour, now) as house:
        wanted = day or next_day(house.tour, house.now())
        memory = house.store.recall(house.tour_key, wanted)
        briefing, built = house.plan_or_last(Replan(day=wanted, demands=memory.demands))
        if dump is not None and built is not None:
            write_text(dump, write_problem(built.problem))
        _show(briefing, form)
        if briefing.decision is Decision.NO_WAY and not briefing.plan_stale:
            sys.exit(NO)


@main.command(epilog="Example: printf 'why\\nok\\n' | replanner chat my_tour.toml")
@_TOUR
@_DATE
@_NOW
def chat(tour: Path, day: date | None, now: datetime | None) -> None:
    """Talk about a day's plan: typed, piped, or just read it."""
    with rider_errors(), own_house(tour, now) as house:
        _talk(house, day or next_day(house.tour, house.now()))


@main.command("solve", epilog="Example: replanner solve day.json --format json")
@click.argument("file", type=click.Path(path_type=Path))
@_FORMAT
@click.option("--seconds", type=click.FloatRange(min=0, min_open=True), help="Stop after this.")
def solve_file(file: Path, form: str, seconds: float | None) -> None:
    """Solve a day dumped as a problem file."""
    with rider_errors():
        problem = _problem(file)
        result = solve(problem, time_limit_s=seconds)
        answer = result_as_json(result)
        if form == "json":
            _echo_json(answer)
        else:
            click.echo(_solved_text(problem, result))
        if result.solution is None:
            sys.exit(NO)


def _problem(file: Path) -> DayProblem:
    """Read a problem file; its mistakes are told with the file's name."""
    raw = read_raw(file, mend="name a problem file")
    try:
        return read_problem(raw)
    except InputError as error:
        faults = tuple(replace(one, where=f"{file}, {one.where}") for one in error.faults)
        raise InputError.of(faults) from error


def next_day(tour: Tour, now: datetime) -> date:
    """Return the day to plan in the evening of `now`: tomorrow, or the tour's first day.

    Raises
    ------
    InputError
        If the tour is over.
    """
    today = now.astimezone(tour.zone).date()
    ahead = sorted(day.date for day in tour.days if day.date > today)
    if not ahead:
        raise no_such_day(tour, today + timedelta(days=1))
    return ahead[0]


def _talk(house: House, day: date) -> None:
    if day not in {known.date for known in house.tour.days}:
        raise no_such_day(house.tour, day)
    failed: list[ReplannerError] = []

    def make(request: Replan) -> Briefing:
        try:
            return house.plan(request.day, request.demands).briefing
        except ReplannerError as error:
            failed.append(error)
            raise

    planner = planner_for(make, house.store, house.tour_key, house.now(), shared=False)
    rider = OneRider(house.store, house.tour_key, book_of(house.tour), day, planner, house.now)
    hands = Hands(
        hear=rider.hear,
        say=lambda text: click.echo(f"{text}\n"),
        picture=_picture,
        track=lambda briefing: _track(briefing, house.tour),
        own_data="Everything kept is in the one state file on this machine: copy or delete it.",
        now=house.now,
    )
    stdin = sys.stdin if sys.stdin is not None and not sys.stdin.closed else None
    converse(read_lines(stdin, sys.stdout), day, hands)
    if rider.state.last_shown is None:
        if failed and not _one_stream():
            raise failed[-1]  # told in the conversation; who reads only stderr has to learn it too
        sys.exit(BAD)


def _picture(briefing: Briefing) -> str:
    """Write the picture of a plan into the current folder; returns its name."""
    from replanner.advice.day_hours import hours_unknown  # noqa: PLC0415 - drawing is slow to import
    from replanner.pictures.day import day_picture  # noqa: PLC0415

    path = Path(f"plan-{briefing.date}.png")
    write_bytes(path, day_picture(briefing, briefing.hours or hours_unknown(briefing)))
    return str(path)


def _track(briefing: Briefing, tour: Tour) -> str:
    """Write the GPX file of a plan into the current folder; returns its name."""
    from replanner.files.gpx_out import day_gpx  # noqa: PLC0415 - as above

    path = Path(f"plan-{briefing.date}.gpx")
    write_bytes(path, day_gpx(briefing, tour))
    return str(path)


def _one_stream() -> bool:
    """Tell whether stdout and stderr go to one place: a terminal, a file, a pipe."""
    try:
        return os.path.sameopenfile(sys.stdout.fileno(), sys.stderr.fileno())
    except (OSError, ValueError, AttributeError):  # closed, or no file of the system at all
        return False


def _solved_text(problem: DayProblem, result: SearchResult) -> str:
    solution = result.solution
    if solution is None and result.proven:
        return "\n".join(("no plan: these cannot hold together", *map(str, result.blame)))
    if solution is None:
        return f"no plan found in the time given; none is worth more than {result.bound:g}"
    proof = "proven best" if result.proven else f"at most {result.bound:g} is possible"
    rides = [
        f"slot {visit.start_slot}: {problem.legs[visit.leg].id}, way {visit.way}"
        for visit in solution.visits
    ]
    return "\n".join(
        (
            f"value {solution.value:g}, {proof}",
            f"leave in slot {solution.leave_slot}",
            *rides,
            f"in by slot {solution.finish_slot}",
        )
    )


def _show(briefing: Briefing, form: str) -> None:
    if form == "json":
        _echo_json(as_json(briefing))
    else:
        click.echo(message(briefing))


def _echo_json(answer: object) -> None:
    click.echo(json.dumps(answer, ensure_ascii=False, allow_nan=False, indent=2))


for command in (operator.serve, operator.invite, operator.health, operator.backup):
    main.add_command(command)
