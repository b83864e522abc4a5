"""That the decision can wait is told in one short line, and only where it is so. INVENTED."""

from dataclasses import replace
from datetime import timedelta

import pytest
from briefings import ALL, DAY, STALE, SWAP, at

from replanner.advice.as_json import as_json
from replanner.advice.briefing import Odds, Waiting
from replanner.advice.text import message, spoken, why
from replanner.advice.waiting import BEFORE_DEPARTURE
from replanner.service.due import BEFORE_DEPARTURE as THE_MORNING_CHECK

WAITING = Waiting(
    gain_minutes=12.4, decide_by=at("06:20"), members=11, other_share=3 / 11, estimated=True
)
WAITS = replace(SWAP, waiting=WAITING)
ROOMY = replace(
    WAITS, left_out=(), changes=(), legs=SWAP.legs[:1], decision_points=(), next_check=None
)
CHECK = "Next check 07:45"
REAL = Odds(members=20, plan_holds=0.75, by_leg={}, estimated=False)  # a shorter line
LINE = "Can wait till 07:20: plan B wins in 3 of 11 runs (estimated)"


def test_it_is_decided_by_the_morning_check() -> None:
    assert BEFORE_DEPARTURE == THE_MORNING_CHECK


def test_one_line_in_place_of_to_check_again() -> None:
    told = message(ROOMY).split("\n")
    assert LINE in told
    assert "Likely to hold (7 in 10, estimated)" in told
    assert "Check before leaving" in message(replace(ROOMY, waiting=None))


def test_where_lines_are_short_it_takes_the_place_of_the_check_in_its_line() -> None:
    """Nothing else that is told gives way to it; how often plan B wins is one tap away."""
    one_line, plain = (f"Likely to hold (7 in 10). {then}" for then in ("Decide by 07:20", CHECK))
    told = message(replace(SWAP, odds=REAL))
    assert message(replace(WAITS, odds=REAL)) == told.replace(plain, one_line)
    assert plain in told


def test_a_check_that_will_come_is_told_as_well() -> None:
    told = message(replace(ROOMY, next_check=at("06:20"))).split("\n")
    assert "Likely to hold (7 in 10, estimated). Next check 07:20" in told
    assert LINE in told


@pytest.mark.parametrize("name", ALL)
def test_it_gives_way_before_whatever_must_be_told(name: str) -> None:
    """Every example keeps all its other lines that can never go, in the limits, with it or not."""
    text = message(replace(ALL[name], waiting=WAITING))
    lines = text.split("\n")
    assert len(lines) <= 10
    assert len(text) <= 650
    assert max(map(len, lines)) <= 72
    with_it = {line for line in lines if not line.startswith("Can wait")}
    never_go = ("Advice only", "No official warnings", "No data", "Data", "INVENTED", "OLD DATA")
    for line in message(ALL[name]).split("\n"):
        if line.startswith(never_go):
            assert line in with_it


def test_an_old_plan_does_not_tell_anybody_to_wait() -> None:
    old = replace(STALE, waiting=WAITING)
    assert "an wait" not in message(old) + spoken(old)
    assert "Waiting" not in why(old)


def test_a_real_ensemble_is_not_called_estimated() -> None:
    sure = replace(ROOMY, waiting=replace(WAITING, estimated=False))
    assert "Can wait till 07:20: plan B wins in 3 of 11 runs" in message(sure).split("\n")


def test_the_longest_hour_still_fits_a_line() -> None:
    """The evening before a start at midnight, fifty runs: with a weekday, in fewer words."""
    early = replace(
        WAITING, decide_by=at("22:15") - timedelta(days=1), members=51, other_share=17 / 51
    )
    told = message(replace(ROOMY, waiting=early)).split("\n")
    assert "Can wait till Thu 23:15: plan B wins 17 of 51 (estimated)" in told


def test_why_and_aloud() -> None:
    assert "Waiting till 07:20 may gain 12 min: B wins 3 of 11 (estimated)" in why(WAITS)
    aloud = "It can wait till seven twenty, plan B wins in three of eleven runs."
    assert aloud in spoken(ROOMY)


def test_json_holds_it_or_null() -> None:
    assert as_json(SWAP)["waiting"] is None
    assert as_json(WAITS)["waiting"] == {
        "gain_minutes": 12.4,
        "decide_by": f"{DAY.isoformat()}T07:20:00+01:00",
        "members": 11,
        "other_share": 0.273,  # a share, to three places
        "estimated": True,
    }
