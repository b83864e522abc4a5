"""Where riders are on a leg at an instant, by their own passage."""

from datetime import UTC, datetime, timedelta

import numpy as np

from replanner.trip.model import Way
from replanner.trip.passage import Delay, Passage, instant64

NINE = datetime(2027, 4, 2, 9, tzinfo=UTC)


def after(minutes: float) -> datetime:
    return NINE + timedelta(minutes=minutes)


def test_a_course_tells_pieces_and_standstills_in_order() -> None:
    passage = Passage(
        way=Way.FORWARD,
        starts=np.array([instant64(NINE), instant64(after(60))]),
        fractions=np.array([0.0, 0.5, 1.0]),
        piece_minutes=np.array([[20.0, 25.0], [40.0, 40.0]]),  # the second half is slower
        delays=(Delay(0.75, np.array([15.0, 0.0])), Delay(0.0, np.array([0.0, 5.0]))),
    )
    assert passage.course(0) == (
        (0.0, NINE),
        (0.5, after(20)),
        (0.75, after(40)),
        (0.75, after(55)),
        (1.0, after(75)),
    )
    # The other start waits at first, and has no halt.
    assert passage.course(1) == (
        (0.0, after(60)),
        (0.0, after(65)),
        (0.5, after(90)),
        (0.75, after(110)),
        (1.0, after(130)),
    )
    assert passage.course(0)[-1][1] == after(float(passage.minutes[0]))
