"""Names, hours, stretches of time and days as riders type them; all examples are invented."""

from datetime import date, time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replanner.dialogue.choices import chosen
from replanner.dialogue.intent_types import Option
from replanner.dialogue.names import find_name, one_slip, words_of
from replanner.dialogue.times import day_of, minutes_of, nearly_a_day, wall_times
from tests.dialogue.evening import NAMES
from tests.dialogue.slips import slips_of

DAYS = tuple(date(2027, 4, number) for number in range(1, 11))  # Thursday 1 to Saturday 10
TODAY, PLANNED = date(2027, 4, 1), date(2027, 4, 2)


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("7", [time(7)]),
        ("07:30", [time(7, 30)]),
        ("7.30", [time(7, 30)]),
        ("7h30", [time(7, 30)]),
        ("730", [time(7, 30)]),
        ("0730", [time(7, 30)]),
        ("7am", [time(7)]),
        ("7 am", [time(7)]),
        ("7pm", [time(19)]),
        ("7:15 pm", [time(19, 15)]),
        ("12", [time(12)]),
        ("12am", [time(0)]),
        ("12pm", [time(12)]),
        ("noon", [time(12)]),
        ("seven", [time(7)]),
        ("seven thirty", [time(7, 30)]),
        ("7 45", [time(7, 45)]),
        ("half past 7", [time(7, 30)]),
        ("half seven", [time(7, 30)]),
        ("quarter past nine", [time(9, 15)]),
        ("quarter to 9", [time(8, 45)]),
        ("10 to 8", [time(7, 50)]),
        ("20 past 6", [time(6, 20)]),
        ("8 in the morning", [time(8)]),
        ("15:00", [time(15)]),
        ("3", [time(3), time(15)]),
        ("3:30", [time(3, 30), time(15, 30)]),
        ("03:30", [time(3, 30)]),
        ("3am", [time(3)]),
        ("24", []),
        ("7:75", []),
        ("25:00", []),
        ("hask", []),
        ("7 8", []),
        ("", []),
    ],
)
def test_hours(said: str, meant: list[time]) -> None:
    words = tuple(word for word in words_of(said) if word != "the")
    assert list(wall_times(words)) == meant


@given(st.times())
def test_an_hour_written_in_full_is_that_hour(wall: time) -> None:
    plain = wall.replace(second=0, microsecond=0, tzinfo=None, fold=0)
    assert wall_times(words_of(f"{plain:%H:%M}")) == (plain,)


@pytest.mark.parametrize(
    ("said", "minutes"),
    [
        ("40", 40),
        ("40 min", 40),
        ("an hour", 60),
        ("1 hr", 60),
        ("half an hour", 30),
        ("1 hour 20", 80),
        ("two hours", 120),
        ("an hour and a half", 90),
        ("1h", 60),
        ("hask", None),
        ("", None),
    ],
)
def test_stretches_of_time(said: str, minutes: float | None) -> None:
    assert minutes_of(words_of(said)) == minutes


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("saturday", date(2027, 4, 3)),  # the next one after the day spoken about, not the 10th
        ("sat", date(2027, 4, 3)),
        ("thursday", date(2027, 4, 8)),
        ("thrusday", date(2027, 4, 8)),
        ("friday", date(2027, 4, 9)),
        ("tomorrow", date(2027, 4, 2)),
        ("today", date(2027, 4, 1)),
        ("the day after", date(2027, 4, 3)),
        ("day 4", date(2027, 4, 4)),
        ("day four", date(2027, 4, 4)),
        ("the 5th", date(2027, 4, 5)),
        ("5 april", date(2027, 4, 5)),
        ("apr 5", date(2027, 4, 5)),
        ("2027-04-05", date(2027, 4, 5)),
        ("sunday 4th", date(2027, 4, 4)),
        ("sunday 5th", "sunday 5th"),
        ("day 11", "day 11"),
        ("5 may", "5 may"),
        ("2027-05-05", "2027 05 05"),
        ("someday", None),
        ("5", None),
        ("hask", None),
    ],
)
def test_days(said: str, meant: date | str | None) -> None:
    words = tuple(word for word in words_of(said) if word != "the")
    assert day_of(words, DAYS, TODAY, PLANNED) == meant


def test_a_mistyped_short_day_is_nearly_one() -> None:
    assert all(nearly_a_day(word) for word in ("saat", "sta", "say", "sundya", "fru"))
    assert not any(nearly_a_day(word) for word in ("quern", "gannet", "causeway"))


@given(st.text("abcd", max_size=5), st.text("abcd", max_size=5))
def test_one_slip_is_one_edit(said: str, meant: str) -> None:
    # Optimal string alignment distance by its textbook recurrence (memory).
    rows = [[0] * (len(meant) + 1) for _ in range(len(said) + 1)]
    for i in range(len(said) + 1):
        for j in range(len(meant) + 1):
            if not i or not j:
                rows[i][j] = i + j
                continue
            best = min(
                rows[i - 1][j] + 1,
                rows[i][j - 1] + 1,
                rows[i - 1][j - 1] + (said[i - 1] != meant[j - 1]),
            )
            if i > 1 and j > 1 and said[i - 1] == meant[j - 2] and said[i - 2] == meant[j - 1]:
                best = min(best, rows[i - 2][j - 2] + 1)
            rows[i][j] = best
    assert one_slip(said, meant) == (rows[-1][-1] <= 1)


@pytest.mark.parametrize(
    ("said", "best"),
    [
        ("Hask Saddle", ["hask"]),
        ("hask sadle", ["hask"]),
        ("HASK-SADDLE", ["hask"]),
        ("hasksaddle", ["hask"]),
        ("the saddle at hask", []),
        ("hask", ["hask", "valley"]),
        ("hask valley", ["valley"]),
        ("brindle", ["brindle", "brindle-low"]),
        ("brindle low", ["brindle-low"]),
        ("brindle lop", ["brindle"]),
        ("tarn forde", ["tar"]),
        ("T\u0101rn F\u00f6rde", ["tar"]),
        ("causway", ["causeway"]),
        ("gannet", ["gannet"]),
        ("gan", []),
        ("quern hask", []),
        ("loch ness", []),
        ("", []),
    ],
)
def test_names(said: str, best: list[str]) -> None:
    assert sorted(find_name(said, NAMES).best) == sorted(best)


def test_no_slip_in_a_whole_name_makes_another_name_of_it() -> None:
    for key, name in NAMES.items():
        for slipped in slips_of(name):
            assert (
                set(find_name(slipped, NAMES).best) <= {key}
                or key in find_name(slipped, NAMES).best
            ), slipped


def test_a_number_in_a_name_is_never_a_slip_of_another() -> None:
    names = {"two": "Loop 2", "three": "Loop 3"}
    assert find_name("loop 3", names).best == ("three",)
    assert find_name("loop 4", names).best == ()


@given(st.text(max_size=60))
def test_any_text_can_be_looked_up(said: str) -> None:
    assert set(find_name(said, NAMES).best) <= set(NAMES)


LEGS = (Option("Hask Saddle", "closed Hask Saddle"), Option("Hask valley road", "closed valley"))
HOURS = (Option("03:00", "leave at 03:00"), Option("15:00", "leave at 15:00"))


@pytest.mark.parametrize(
    ("options", "line", "says"),
    [
        (LEGS, "1", LEGS[0].says),
        (LEGS, "number 2", LEGS[1].says),
        (LEGS, "the first one", LEGS[0].says),
        (LEGS, "the saddle", LEGS[0].says),
        (LEGS, "vallye road", LEGS[1].says),
        (LEGS, "3", None),
        (LEGS, "hask", None),
        (LEGS, "yes", None),
        (LEGS, "", None),
        (HOURS, "15:00", HOURS[1].says),
        (HOURS, "3pm", HOURS[1].says),
        (HOURS, "morning", HOURS[0].says),
        (HOURS, "3", None),
        (HOURS, "7", None),
    ],
)
def test_an_option_is_picked_only_if_it_is_meant(
    options: tuple[Option, ...], line: str, says: str | None
) -> None:
    assert chosen(options, line) == says
