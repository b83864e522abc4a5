"""Where riders were is forgotten once the day is over, wherever it was kept.

Positions are INVENTED and written so that their figures stand nowhere else.
"""

from datetime import UTC, datetime, time, timedelta

from replanner.clock import local_instant
from replanner.people import Role
from replanner.post import DueKind
from tests.dialogue.evening import DAY
from tests.safety.desk import LEADER, RIDER, TOUR, Desk, position

NOON = local_instant(DAY, time(12), TOUR.zone)
# No two figures of them are alike, and none is of the tour.
SPOTS = tuple((-40.1 - n * 0.0013579, 176.6 + n * 0.0024681) for n in range(1, 9))
FIGURES = tuple(
    repr(abs(figure))[:8] for spot in SPOTS for figure in spot
)  # as JSON writes their first digits


def on_the_road(desk: Desk) -> None:
    """Let a day be ridden with positions of every kind."""
    desk.joined(LEADER, Role.LEADER)
    desk.joined(RIDER, Role.RIDER)
    desk.evening()
    desk.says(LEADER, "ok")
    desk.now = NOON
    for number, spot in enumerate(SPOTS):
        desk.now += timedelta(minutes=3)
        who = RIDER if number == 5 else LEADER
        desk.gets(position(who, *spot, desk.now, live=number % 2 == 0))
        desk.says(
            LEADER, ("running 20 late", "stop here an hour", "what if i skip hask")[number % 3]
        )
    desk.arrive(position(RIDER, *SPOTS[0], desk.now))  # never dealt with
    desk.letters()


def tidied(desk: Desk, at: datetime) -> None:
    desk.now = at
    with desk.store.work() as work:
        work.set_due(DueKind.HOUSEKEEPING, 0, at)
    desk.round(DueKind.HOUSEKEEPING)


def test_the_day_after_nothing_tells_where_they_were(desk: Desk) -> None:
    on_the_road(desk)
    assert len(desk.trace(*FIGURES)) > 4  # the search does find them while the day lasts
    memory = desk.in_force()[0]
    assert memory.demands.underway is not None or memory.progress is not None
    tidied(desk, NOON + timedelta(hours=1))
    assert desk.trace(*FIGURES)  # a day under way is not forgotten
    tidied(desk, datetime.combine(DAY + timedelta(days=1), time(16), UTC))
    assert desk.trace(*FIGURES) == []
    memory = desk.in_force()[0]
    assert memory.demands.underway is None
    assert memory.progress is None
    assert desk.says(LEADER, "plan")  # and the conversation goes on


def test_the_rounds_see_to_it_by_themselves(desk: Desk) -> None:
    """Nobody has to ask: the housekeeping sets itself anew each hour."""
    on_the_road(desk)
    tidied(desk, desk.now)
    while desk.now < datetime.combine(DAY + timedelta(days=1), time(17), UTC):
        desk.now += timedelta(hours=1)
        desk.round(DueKind.HOUSEKEEPING)
    assert desk.trace(*FIGURES) == []
