"""Reasons, choices and short answers: each tells the briefing's own facts, in few lines."""

from dataclasses import replace

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
    STALE,
    STAND_IN,
    SWAP,
    at,
)
from generated import briefings, quick
from hypothesis import given

from replanner.advice import text
from replanner.advice.briefing import Briefing, Odds

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
    assert lines[1] == "  at 09:00 wet track, rain 4.2, limit 2 mm, Hask lane"
    assert "Gannet Head left out: to ride it costs 32 min" in lines
    assert "Plan B if the track stays wet after noon" in lines
    assert "No other order of the day is worth more: proven." in lines


def test_why_says_what_an_impossible_leg_would_take() -> None:
    told = text.why(STAND_IN)
    assert "Valley Road, not Hask Saddle: no plan without it" in told
    assert "  at 14:00 gust 96, limit 64 km/h, Hask top" in told
    assert "Hask Saddle cannot be ridden\n  it would take better weather" in told


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
        "It fails by: no-go",
        "Worst, no-go: Hask Saddle at 14:00 gust 96, limit 64 km/h",
    ]


def test_plan_b() -> None:
    lines = text.plan_b_text(SWAP).split("\n")
    assert lines[0] == "Plan B: leave 09:00, in by 16:30"
    assert lines[1:3] == ["08:40 Salt Causeway", "13:30 Valley Road"]
    assert "Worth 32 min less than the plan" in lines
    assert text.plan_b_text(AS_PLANNED) == "There is no plan B worth telling."


def test_decision_points_and_turning_back() -> None:
    assert text.decision_text(SWAP).split("\n") == [
        "Haskfoot by 16:15: a wet track? Take Valley Road",
        "  then in by 17:40",
        "Hask Saddle: turn back by 16:15",
        "Spare 65 min, then: dusk",
    ]


def test_differences_tell_only_what_changes() -> None:
    assert text.differences(SWAP, SWAP) == "Nothing changes."
    told = text.differences(SWAP, STAND_IN).split("\n")
    assert told == [
        "Fri 16 Oct: STAND-IN. Valley Road instead of Hask Saddle",
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
    assert lines[0] == "Likely to hold (75 %, estimated)"
    assert lines[1] == "Hask Saddle: Likely (75 %)"
    assert lines[2].endswith("Very likely (99 %)")  # all of 20 is not certain
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


def test_cautions_are_all_told_the_days_own_first() -> None:
    lines = text.cautions_text(SWAP).split("\n")
    assert lines[0].startswith("- Gusts hit hardest")
    assert len(lines) == len(SWAP.cautions)
    assert any("112" in line for line in lines)


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
