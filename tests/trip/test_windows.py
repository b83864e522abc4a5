"""Windows, tides and sailings. All legs, windows and tables here are INVENTED.

Clock changes are checked against the published rules of the zones (IANA tz database, public
domain): New Zealand set clocks back on Sunday 4 April 2027 at 03:00 daylight time and forward on
Sunday 26 September 2027 at 02:00 standard time.
"""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.trip.model import (
    Ferry,
    Leg,
    LegKind,
    Sailing,
    TideTable,
    Way,
    WeeklyWindow,
    WindowEffect,
)
from replanner.trip.passage import Passage, instant64, moment_of
from replanner.trip.spans import Spans, weekly_spans
from replanner.trip.windows import BanKind, WindowVerdict, judge_windows

AUCKLAND = ZoneInfo("Pacific/Auckland")
FRIDAY = date(2027, 4, 2)
FRIDAY_ONLY = frozenset({4})


def starts_of(day: date, *walls: str) -> np.ndarray:
    return np.array(
        [
            instant64(datetime.combine(day, time.fromisoformat(wall), tzinfo=AUCKLAND))
            for wall in walls
        ],
        dtype="datetime64[s]",
    )


def a_leg(**other: object) -> Leg:
    given = {
        "id": "loop",
        "name": "Loop",
        "kind": LegKind.LOOP,
        "start": "base",
        "end": "base",
        "riding_minutes": 100.0,
        "distance_km": 80.0,
    }
    return Leg(**(given | other))


def a_passage(starts: np.ndarray, way: Way = Way.FORWARD, minutes: float = 100.0) -> Passage:
    """One piece, ridden evenly."""
    return Passage(
        way=way,
        starts=starts,
        fractions=np.array([0.0, 1.0]),
        piece_minutes=np.full((1, starts.size), minutes),
    )


def a_window(effect: WindowEffect, opens: str, closes: str, **other: object) -> WeeklyWindow:
    return WeeklyWindow(
        name=str(other.pop("name", "gate")),
        effect=effect,
        opens=time.fromisoformat(opens),
        closes=time.fromisoformat(closes),
        **other,
    )


def judged(leg: Leg, *walls: str, day: date = FRIDAY, way: Way = Way.FORWARD) -> WindowVerdict:
    starts = starts_of(day, *walls)
    return judge_windows(leg, a_passage(starts, way, leg.riding_minutes), AUCKLAND, 5)


class TestOpen:
    def test_a_gate_is_met_at_its_fraction(self) -> None:
        gate = a_window(WindowEffect.OPEN, "09:00", "17:30", fractions=(0.2,))
        # Met 20 minutes after the start: 08:40 is in time, 08:39 is not; 17:10 is the last.
        verdict = judged(a_leg(windows=(gate,)), "08:39", "08:40", "17:10", "17:11")
        assert verdict.allowed.tolist() == [False, True, True, False]
        ((ban, forbidden),) = verdict.bans
        assert (ban.kind, ban.name) == (BanKind.WINDOW, "gate")
        assert forbidden.tolist() == [True, False, False, True]

    def test_ridden_in_reverse_the_fraction_is_mirrored(self) -> None:
        gate = a_window(WindowEffect.OPEN, "09:00", "17:30", fractions=(0.2,))
        leg = a_leg(windows=(gate,))
        verdict = judged(leg, "07:39", "07:40", "16:10", "16:11", way=Way.REVERSE)
        assert verdict.allowed.tolist() == [False, True, True, False]

    def test_windows_of_one_name_are_alternatives(self) -> None:
        morning = a_window(WindowEffect.OPEN, "09:00", "11:00", fractions=(0.0,))
        evening = a_window(WindowEffect.OPEN, "15:00", "17:00", fractions=(0.0,))
        verdict = judged(a_leg(windows=(morning, evening)), "10:00", "12:00", "16:00")
        assert verdict.allowed.tolist() == [True, False, True]

    def test_windows_of_two_names_are_both_needed(self) -> None:
        gate = a_window(WindowEffect.OPEN, "09:00", "11:00", fractions=(0.0,))
        market = a_window(WindowEffect.OPEN, "10:00", "12:00", fractions=(0.0,), name="bridge")
        verdict = judged(a_leg(windows=(gate, market)), "09:30", "10:30", "11:30")
        assert verdict.allowed.tolist() == [False, True, False]

    def test_the_whole_leg_must_lie_inside_one_opening(self) -> None:
        window = a_window(WindowEffect.OPEN, "09:00", "11:00")
        verdict = judged(a_leg(windows=(window,)), "08:59", "09:00", "09:20", "09:21")
        assert verdict.allowed.tolist() == [False, True, True, False]

    def test_openings_that_meet_are_one(self) -> None:
        first = a_window(WindowEffect.OPEN, "08:00", "10:00")
        second = a_window(WindowEffect.OPEN, "10:00", "12:00")
        assert judged(a_leg(windows=(first, second)), "09:00").allowed.all()

    def test_a_stop_needs_its_hours_from_begin_to_end_even_if_a_point_is_named(self) -> None:
        hours = a_window(WindowEffect.OPEN, "09:00", "11:00", fractions=(0.0,))
        stop = a_leg(kind=LegKind.STOP, windows=(hours,), riding_minutes=40.0)
        assert judged(stop, "10:20", "10:21").allowed.tolist() == [True, False]

    def test_other_weekdays_are_closed(self) -> None:
        window = a_window(WindowEffect.OPEN, "09:00", "17:00", weekdays=FRIDAY_ONLY)
        leg = a_leg(windows=(window,))
        assert judged(leg, "10:00").allowed.all()
        assert not judged(leg, "10:00", day=FRIDAY + timedelta(days=1)).allowed.any()

    def test_past_midnight(self) -> None:
        night = a_window(
            WindowEffect.OPEN, "22:00", "02:00", weekdays=FRIDAY_ONLY, fractions=(0.0,)
        )
        leg = a_leg(windows=(night,))
        assert judged(leg, "01:00", "23:00").allowed.tolist() == [False, True]
        saturday = FRIDAY + timedelta(days=1)
        assert judged(leg, "01:00", "02:01", "23:00", day=saturday).allowed.tolist() == [
            True,
            False,
            False,
        ]

    def test_a_window_of_the_other_way_does_not_bind(self) -> None:
        gate = a_window(WindowEffect.OPEN, "09:00", "10:00", way=Way.REVERSE)
        assert judged(a_leg(windows=(gate,)), "15:00").allowed.all()
        assert not judged(a_leg(windows=(gate,)), "15:00", way=Way.REVERSE).allowed.any()

    def test_a_halt_delays_what_comes_after_it(self) -> None:
        gate = a_window(WindowEffect.OPEN, "09:00", "11:00", fractions=(0.5,))
        leg = a_leg(windows=(gate,))
        passage = a_passage(starts_of(FRIDAY, "09:55", "09:55", "10:10"))
        halted = passage.delayed(0.25, np.array([0.0, 16.0, 0.0]))
        verdict = judge_windows(leg, halted, AUCKLAND, 5)
        assert verdict.allowed.tolist() == [True, False, True]

    def test_a_halt_at_the_point_is_covered_as_well(self) -> None:
        hours = a_window(WindowEffect.OPEN, "09:00", "11:00", fractions=(0.5,))
        passage = a_passage(starts_of(FRIDAY, "09:50", "09:50")).delayed(
            0.5, np.array([20.0, 21.0])
        )
        verdict = judge_windows(a_leg(windows=(hours,)), passage, AUCKLAND, 5)
        assert verdict.allowed.tolist() == [True, False]


class TestClosedSlowAvoid:
    def test_closed_is_not_passed_inside_and_free_the_moment_it_ends(self) -> None:
        works = a_window(WindowEffect.CLOSED, "09:00", "10:00", fractions=(0.5,), name="works")
        verdict = judged(a_leg(windows=(works,)), "08:09", "08:10", "09:09", "09:10")
        assert verdict.allowed.tolist() == [True, False, False, True]

    def test_closed_for_the_whole_leg_may_not_be_touched(self) -> None:
        works = a_window(WindowEffect.CLOSED, "09:00", "10:00")
        verdict = judged(a_leg(windows=(works,)), "07:19", "07:20", "09:59", "10:00")
        assert verdict.allowed.tolist() == [True, False, False, True]

    def test_slow_adds_its_minutes_once_and_delays_what_follows(self) -> None:
        market = a_window(
            WindowEffect.SLOW,
            "09:00",
            "14:00",
            fractions=(0.66, 0.68),
            name="market",
            added_minutes=20.0,
        )
        gate = a_window(WindowEffect.OPEN, "07:30", "11:40", fractions=(0.8,))
        verdict = judged(a_leg(windows=(gate, market)), "07:00", "10:00", "10:01", "18:00")
        assert verdict.added_minutes.tolist() == [0.0, 20.0, 20.0, 0.0]
        assert verdict.passage.minutes.tolist() == [100.0, 120.0, 120.0, 100.0]
        assert verdict.allowed.tolist() == [True, True, False, False]

    def test_slow_all_along_counts_where_any_of_the_ride_is_inside(self) -> None:
        coaches = a_window(WindowEffect.SLOW, "10:00", "16:00", added_minutes=15.0)
        verdict = judged(a_leg(windows=(coaches,)), "08:19", "08:20", "15:59", "16:00")
        assert verdict.added_minutes.tolist() == [0.0, 15.0, 15.0, 0.0]

    def test_avoid_marks_the_pieces_met_and_forbids_nothing(self) -> None:
        trucks = a_window(WindowEffect.AVOID, "05:00", "10:00", name="log trucks")
        passage = Passage(
            way=Way.FORWARD,
            starts=starts_of(FRIDAY, "09:30", "10:00"),
            fractions=np.array([0.0, 0.4, 1.0]),
            piece_minutes=np.array([[40.0, 40.0], [60.0, 60.0]]),
        )
        verdict = judge_windows(a_leg(windows=(trucks,)), passage, AUCKLAND, 5)
        assert verdict.avoid.tolist() == [[True, False], [False, False]]
        assert verdict.allowed.all()
        assert [name for name, met in verdict.avoided if met[0]] == ["log trucks"]


class TestClockChanges:
    def test_a_day_of_25_hours_keeps_wall_times(self) -> None:
        sunday = date(2027, 4, 4)
        window = a_window(WindowEffect.OPEN, "07:30", "17:30")
        spans = weekly_spans([window], AUCKLAND, starts_of(sunday, "12:00"))
        opens = [moment_of(instant) for instant in spans.opens]
        # Saturday 07:30 NZDT is 18:30 UTC the day before, Sunday 07:30 NZST 19:30 UTC.
        assert datetime(2027, 4, 2, 18, 30, tzinfo=UTC) in opens
        assert datetime(2027, 4, 3, 19, 30, tzinfo=UTC) in opens

    def test_a_doubled_hour_opens_late_and_closes_early_but_stays_shut_throughout(self) -> None:
        sunday = date(2027, 4, 4)
        noon = starts_of(sunday, "12:00")
        only_sunday = frozenset({6})
        first_0230 = datetime(2027, 4, 3, 13, 30, tzinfo=UTC)
        second_0230 = datetime(2027, 4, 3, 14, 30, tzinfo=UTC)

        def span(effect: WindowEffect, opens: str, closes: str) -> tuple[datetime, datetime]:
            window = a_window(effect, opens, closes, weekdays=only_sunday)
            spans = weekly_spans([window], AUCKLAND, noon)
            return moment_of(spans.opens[0]), moment_of(spans.closes[0])

        assert span(WindowEffect.OPEN, "02:30", "05:00")[0] == second_0230
        assert span(WindowEffect.OPEN, "01:00", "02:30")[1] == first_0230
        assert span(WindowEffect.CLOSED, "02:30", "05:00")[0] == first_0230
        assert span(WindowEffect.CLOSED, "01:00", "02:30")[1] == second_0230

    def test_a_skipped_hour_leaves_no_window(self) -> None:
        spring = date(2027, 9, 26)
        window = a_window(WindowEffect.OPEN, "02:10", "02:50", weekdays=frozenset({6}))
        assert weekly_spans([window], AUCKLAND, starts_of(spring, "12:00")).opens.size == 0

    def test_a_window_as_long_as_the_day(self) -> None:
        window = a_window(WindowEffect.OPEN, "00:00", "00:00")
        spans = weekly_spans([window], AUCKLAND, starts_of(date(2027, 4, 4), "12:00"))
        assert spans.opens.size == 1


class TestTides:
    TABLE = TideTable(
        fractions=(0.44, 0.56),
        open_utc=(
            (datetime(2027, 4, 1, 19, 30, tzinfo=UTC), datetime(2027, 4, 1, 23, 30, tzinfo=UTC)),
        ),
        margin_minutes=30.0,
    )

    def test_both_crossings_inside_the_table_less_its_margin(self) -> None:
        # Open 08:30 to 12:30 local, usable 09:00 to 12:00: out 44 min and back 56 min after start.
        verdict = judged(a_leg(tides=self.TABLE), "08:15", "08:16", "11:04", "11:05")
        assert verdict.allowed.tolist() == [False, True, True, False]
        assert verdict.bans[0][0].kind is BanKind.TIDE

    def test_a_halt_beyond_the_causeway_shortens_the_window(self) -> None:
        passage = a_passage(starts_of(FRIDAY, "10:34", "10:35")).delayed(0.5, np.full(2, 30.0))
        verdict = judge_windows(a_leg(tides=self.TABLE), passage, AUCKLAND, 5)
        assert verdict.allowed.tolist() == [True, False]

    def test_without_fractions_the_whole_leg(self) -> None:
        table = TideTable(fractions=(), open_utc=self.TABLE.open_utc, margin_minutes=30.0)
        verdict = judged(a_leg(tides=table), "08:59", "09:00", "10:20", "10:21")
        assert verdict.allowed.tolist() == [False, True, True, False]


class TestSailings:
    FERRY = Ferry(
        sailings=(
            Sailing(way=Way.FORWARD, weekdays=FRIDAY_ONLY, departures=(time(9, 47), time(11, 15))),
            Sailing(way=Way.REVERSE, weekdays=FRIDAY_ONLY, departures=(time(10, 30),)),
        ),
        boarding_minutes=20.0,
    )

    def crossing(self) -> Leg:
        return a_leg(
            kind=LegKind.CROSSING,
            start="quay",
            end="other",
            ferry=self.FERRY,
            riding_minutes=25.0,
        )

    def test_boarded_from_the_last_slot_in_time(self) -> None:
        # 09:47 less 20 minutes is 09:27, its slot 09:25; over at 10:12.
        verdict = judged(self.crossing(), "09:20", "09:25", "09:30", "10:55", "11:00")
        assert verdict.allowed.tolist() == [False, True, False, True, False]
        assert verdict.bans[0][0].kind is BanKind.SAILING
        assert moment_of(verdict.departure[1]).astimezone(AUCKLAND).time() == time(9, 47)
        assert verdict.passage.minutes[[1, 3]].tolist() == [47.0, 45.0]

    def test_boarded_as_long_before_as_the_rider_wants_to_wait(self) -> None:
        passage = a_passage(
            starts_of(FRIDAY, "09:00", "09:05", "09:25", "09:30"), Way.FORWARD, 25.0
        )
        verdict = judge_windows(self.crossing(), passage, AUCKLAND, 25.0)
        assert verdict.allowed.tolist() == [False, True, True, False]
        assert verdict.passage.minutes[[1, 2]].tolist() == [67.0, 47.0]

    def test_the_other_way_has_its_own_sailings(self) -> None:
        verdict = judged(self.crossing(), "09:25", "10:10", way=Way.REVERSE)
        assert verdict.allowed.tolist() == [False, True]

    def test_no_boat_on_other_days(self) -> None:
        assert not judged(self.crossing(), "09:25", day=date(2027, 4, 4)).allowed.any()

    def test_of_two_sailings_from_one_slot_the_first(self) -> None:
        ferry = Ferry(
            sailings=(
                Sailing(
                    way=Way.FORWARD, weekdays=FRIDAY_ONLY, departures=(time(9, 48), time(9, 46))
                ),
            ),
            boarding_minutes=20.0,
        )
        verdict = judged(a_leg(kind=LegKind.CROSSING, ferry=ferry), "09:25")
        assert moment_of(verdict.departure[0]).astimezone(AUCKLAND).time() == time(9, 46)


minutes_of_day = st.integers(0, 24 * 60 - 1)


def wall(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"


class TestProperties:
    @settings(max_examples=60, deadline=None)
    @given(
        opens=st.integers(6 * 60, 12 * 60),
        length=st.integers(10, 300),
        earlier=st.integers(0, 90),
        later=st.integers(0, 90),
        where=st.tuples(
            st.lists(st.floats(0, 1), max_size=3).map(tuple), st.sampled_from(list(Way))
        ),
    )
    def test_widening_an_opening_forbids_no_start_more(
        self, opens: int, length: int, earlier: int, later: int, where: tuple[tuple, Way]
    ) -> None:
        fractions, way = where
        walls = [wall(minute) for minute in range(5 * 60, 20 * 60, 15)]
        narrow, wide = (
            judged(
                a_leg(
                    windows=(
                        a_window(WindowEffect.OPEN, wall(first), wall(last), fractions=fractions),
                    )
                ),
                *walls,
                way=way,
            ).allowed
            for first, last in (
                (opens, opens + length),
                (opens - earlier, opens + length + later),
            )
        )
        assert not np.any(narrow & ~wide)

    @settings(max_examples=60, deadline=None)
    @given(opens=minutes_of_day, closes=minutes_of_day, minute=minutes_of_day)
    def test_inside_by_plain_arithmetic(self, opens: int, closes: int, minute: int) -> None:
        """Oracle: minutes of the day on a date without a clock change."""
        window = a_window(WindowEffect.CLOSED, wall(opens), wall(closes), fractions=(0.0,))
        inside = opens <= minute < closes if opens < closes else minute >= opens or minute < closes
        assert judged(a_leg(windows=(window,)), wall(minute)).allowed.tolist() == [not inside]

    @given(
        st.lists(st.tuples(st.integers(0, 500), st.integers(0, 60)), max_size=8),
        st.integers(0, 600),
        st.integers(0, 60),
    )
    def test_spans_by_counting_minutes(
        self, pairs: list[tuple[int, int]], first: int, length: int
    ) -> None:
        """Oracle: the set of minutes covered."""
        zero = datetime(2027, 4, 1, tzinfo=UTC)

        def at(minute: int) -> datetime:
            return zero + timedelta(minutes=minute)

        spans = Spans.of((at(a), at(a + n)) for a, n in pairs)
        covered = {minute for a, n in pairs for minute in range(a, a + n)}
        here = np.array([instant64(at(first))])
        there = np.array([instant64(at(first + length))])
        touched = any(minute in covered for minute in range(first, first + length + 1))
        assert spans.touch(here, there).tolist() == [touched]
        if length:
            held = all(minute in covered for minute in range(first, first + length))
            assert spans.hold(here, there).tolist() == [held]


def test_no_moment_without_a_zone() -> None:
    with pytest.raises(ValueError, match="moment"):
        instant64(datetime(2027, 4, 2))  # noqa: DTZ001 - the missing zone is the point
