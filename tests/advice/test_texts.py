"""Reasons, choices and short answers: each tells the briefing's own facts, in few lines."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from briefings import (
    ALL,
    AS_PLANNED,
    BRINDLE,
    GUST,
    HASK,
    LATE,
    MISSING_DATA,
    NO_WAY,
    ORIGIN,
    STALE,
    STAND_IN,
    SWAP,
    at,
)
from generated import briefings, quick
from hypothesis import given

from replanner.advice import text
from replanner.advice.briefing import Briefing, Decision, Odds
from replanner.advice.cautions import STANDING
from replanner.advice.words import words_for

SHORT = [name for name in text.__all__ if name.endswith("_text") and name not in (
    "cautions_text", "standing_text")] + ["why"]  # fmt: skip


@quick
@given(briefings())
def test_every_answer_is_short_for_any_briefing(briefing: Briefing) -> None:
    for name in SHORT:
        told = getattr(text, name)(briefing)
        assert told.strip()
        assert len(told.split("\n")) <= 12
        lines = told.split("\n")
        body = lines[:-1] if name in ("why", "forecast_text") else lines  # the credit is whole
        if name != "forecast_text":
            assert max(map(len, body), default=0) <= 72
        assert " nan" not in told


def test_why_gives_worth_number_threshold_hour_and_place() -> None:
    lines = text.why(SWAP).split("\n")
    assert lines[0] == "Hask Saddle 15:15, not 09:00: worth 95 min"
    assert lines[1] == "  at 09:00 wet track, 24-h rain 4.2, limit 2 mm, Hask lane"
    assert "Gannet Head left out: to ride it costs 32 min" in lines
    assert "Plan B if it is worse than forecast on Hask Saddle" in lines
    assert "No other order of the day is worth more: proven." in lines


def test_why_says_what_an_impossible_leg_would_take() -> None:
    told = text.why(STAND_IN)
    assert told.startswith(
        "Valley Road, not Hask Saddle, which is no-go\n"
        "  at 14:00 gust 96, limit 64 km/h, Hask top\n"
        "  it would take better weather\n"
    )
    assert told.count("Hask Saddle") == 2  # with plan B; a stand-in is not told twice


def test_why_a_change_cannot_be_undone() -> None:
    moved = replace(SWAP.changes[0], worth_minutes=None)
    day = replace(SWAP, changes=(moved,))
    assert text.why(day).startswith("Hask Saddle 15:15, not 09:00: no plan keeps 09:00\n")
    own = replace(SWAP.own_order, value_minutes=None, severity=4.0)
    forbidden = replace(day, own_order=own)
    assert text.why(forbidden).startswith("Hask Saddle 15:15, not 09:00: 09:00 is no-go\n")


def test_an_old_plan_tells_what_it_knew_and_when() -> None:
    """A leg whose price it does not know was left out; whether it can be ridden is not known."""
    left_out = (replace(SWAP.left_out[0], cause="stand-in", price_minutes=None),)
    lines = text.why(replace(STALE, left_out=left_out)).split("\n")
    assert lines[0] == "As known on Wed 19:30, not checked since:"
    assert "Gannet Head left out" in lines
    assert "As known" not in text.why(SWAP)


@pytest.mark.parametrize(
    ("cause", "price", "told"),
    [
        ("closed", None, "Gannet Head is closed"),
        ("asked", None, "Gannet Head left out, as you asked"),
        ("hazard", None, "Gannet Head is no-go"),
        ("hazard", 20.0, "Gannet Head left out: to ride it costs 20 min"),
        ("stand-in", 20.0, "Gannet Head left out: to ride it costs 20 min"),
        ("hazard", float("inf"), "Gannet Head is no-go"),
        ("no time", None, "Gannet Head does not fit the day"),
        ("no time", 20.0, "No time for Gannet Head: to ride it costs 20 min"),
        ("not worth it", 20.0, "Gannet Head left out: to ride it costs 20 min"),
        ("not worth it", 0.2, "Gannet Head left out: riding it is as good"),
        ("other day", None, "Gannet Head kept for another day"),
    ],
)
def test_each_cause_of_leaving_out_reads_plainly(
    cause: str, price: float | None, told: str
) -> None:
    left_out = (replace(SWAP.left_out[0], cause=cause, price_minutes=price),)
    assert told in text.why(replace(SWAP, left_out=left_out)).split("\n")


def test_a_leg_of_another_day_is_told_with_that_day() -> None:
    (gannet,) = SWAP.left_out
    later = replace(gannet, cause="other day", moved_to=date(2026, 10, 17))
    assert "Gannet Head kept for Sat 17 Oct" in text.why(replace(SWAP, left_out=(later,)))
    before = replace(later, moved_to=date(2026, 10, 15))
    assert "Gannet Head goes to Thu 15 Oct" in text.why(replace(SWAP, left_out=(before,)))


def test_nothing_is_called_best_where_the_riders_wishes_shape_the_day() -> None:
    """A leg left out by the own order asked for has no price against the plan so made."""
    asked = replace(
        AS_PLANNED,
        decision=Decision.AS_ASKED,
        plan_b=replace(SWAP.plan_b, value_minutes=252.4),
        left_out=(replace(SWAP.left_out[0], price_minutes=0.0),),
    )
    told = text.why(asked)
    assert "This is what you asked for; plan B is worth 40 min more." in told
    assert "Gannet Head left out, as you asked" in told
    assert "Worth 40 min more than the plan" in text.plan_b_text(asked)
    assert "proven" not in text.why(replace(asked, plan_b=None))


def test_a_plan_not_proven_tells_how_far_off_it_may_be() -> None:
    assert "another may be worth 12 min more" in text.why(
        replace(SWAP, proven=False, bound_minutes=224.0)
    )
    assert "not proven best" in text.why(replace(SWAP, proven=False, bound_minutes=None))


def test_own_order_is_told_with_its_cost_and_one_worst_caution() -> None:
    assert text.own_order_text(SWAP).split("\n")[0] == "Your own order is worth 95 min less."
    assert "Worst, avoid: Hask" in text.own_order_text(SWAP)
    assert text.own_order_text(NO_WAY).split("\n") == [
        "Your own order cannot be ridden as it stands.",
        "Worst, no-go: Hask Saddle at 14:00 gust 96, limit 64 km/h",
    ]


def test_plan_b() -> None:
    lines = text.plan_b_text(SWAP).split("\n")
    assert lines[0] == "Plan B: leave 09:00, in by 16:30"
    assert lines[1:3] == ["08:40 Salt Causeway", "13:30 Valley Road"]
    assert "Worth 32 min less than the plan" in lines
    assert lines[-1] == "Better if it is worse than forecast on Hask Saddle"
    as_good = replace(SWAP, plan_b=replace(SWAP.plan_b, value_minutes=211.7))
    assert "Worth as much as the plan" in text.plan_b_text(as_good)
    assert text.plan_b_text(AS_PLANNED) == "There is no plan B worth telling."


def test_decision_points_and_turning_back() -> None:
    assert text.decision_text(SWAP).split("\n") == [
        "Haskfoot by 16:15. Track still wet? Take Valley Road",
        "  then in by 17:40",
        "Hask Saddle: turn back by 16:15",
        "Spare 65 min; first to break: dusk",
    ]


def test_differences_tell_only_what_changes() -> None:
    assert text.differences(SWAP, SWAP) == "Nothing changes."
    told = text.differences(SWAP, STAND_IN).split("\n")
    assert told == [
        "Fri 16 Oct: STAND-IN. Valley Road, not Hask Saddle",
        "Without Hask Saddle",
        "With Valley Road at 14:30",
    ]
    later = replace(
        SWAP,
        departure=at("08:00"),
        arrival=at("17:30"),
        spare_minutes=35.2,
        value_minutes=200.0,
        legs=(replace(BRINDLE, start=at("11:00")), replace(HASK, severity=3.0)),
    )
    assert text.differences(SWAP, later).split("\n") == [
        "Leave 09:00, not 08:30",
        "In by 18:30, not 18:00",
        "Spare 35 min, not 65 min",
        "Without Salt Causeway",
        "Brindle Low Road 12:00, not 11:45",
        "Hask Saddle is avoid, not caution",
        "Worth 12 min less",
    ]


def test_odds_by_leg_the_least_sure_first() -> None:
    lines = text.odds_text(SWAP).split("\n")
    assert lines[0] == "Likely to hold (7 in 10, estimated)"
    assert lines[1] == "How sure each leg is milder than avoid, by 20 runs:"
    assert lines[2] == "Hask Saddle: Likely (7 in 10)"
    assert lines[3].endswith("Very likely (9 in 10)")  # all of 20 is not certain
    assert lines[-1].startswith("Estimated")
    assert text.odds_text(NO_WAY) == "How sure this is was not worked out."
    unknown = Odds(members=20, plan_holds=float("nan"), by_leg={}, estimated=True)
    assert text.odds_text(replace(SWAP, odds=unknown)) == "How sure this is was not worked out."


def test_accepted_repeats_line_one() -> None:
    for briefing in ALL.values():
        assert text.message(briefing).split("\n")[0] in text.accepted_text(briefing).split("\n")


def test_the_forecast_tells_service_age_staleness_gaps_and_the_whole_credit() -> None:
    told = text.forecast_text(STALE)
    for part in ("Invented Weather", "INVENTED", "Made Wed 13:00", "OLD DATA", STALE.origin.credit):
        assert part in told
    gaps = text.forecast_text(MISSING_DATA)
    assert "No data for fog and low cloud: treat as caution" in gaps
    assert "Official warnings were not checked." in gaps
    assert "No official warning is in force." in text.forecast_text(AS_PLANNED)
    assert "Fetched Thu 18:40, 50 min old" in text.forecast_text(AS_PLANNED)


def test_a_forecast_fetched_now_or_later_than_now_is_told_without_an_age() -> None:
    for minutes in (0, -20):
        fetched = SWAP.made_at - timedelta(minutes=minutes)
        told = text.forecast_text(replace(SWAP, origin=replace(ORIGIN, fetched=fetched)))
        (line,) = [line for line in told.split("\n") if line.startswith("Fetched")]
        assert line == f"Fetched Thu 19:{30 - minutes}"


def test_cautions_are_all_told_the_days_own_first() -> None:
    lines = text.cautions_text(SWAP).split("\n")
    assert lines[0] == "Cautions, those of this day first:"
    assert lines[1].startswith("- Gusts hit hardest")
    assert sum(line.startswith("- ") for line in lines) == len(SWAP.cautions)
    assert max(map(len, lines)) <= 60
    told = " ".join(line.strip() for line in lines)
    assert all(caution.full in told for caution in STANDING.values())
    assert text.standing_text(words_for("en")).startswith("Cautions:\n- This is advice only.")


@pytest.mark.parametrize("name", ALL)
def test_figures_told_are_the_briefings(name: str) -> None:
    """Each reason told carries the hour of the note it comes from."""
    briefing = ALL[name]
    told = text.why(briefing)
    for change in briefing.changes:
        if change.reason is not None:
            hour = (change.reason.hour.hour + 1) % 24  # every example with changes is UTC + 1
            assert f"at {hour:02}:00" in told


def test_late_leaving_is_explained() -> None:
    assert text.why(LATE).startswith("Leave 10:30, not 08:30: worth 22 min\n  at 09:00 wet track")
    assert GUST.value == 26.4
