"""The picture of a day: what is on it, by what was drawn and by what is seen.

Tours and weather are INVENTED. The stored pictures were drawn by this code (Pillow 13.0), looked
at, and are kept at a quarter of the size and in grey: other versions may set letters a little
differently.
"""

import subprocess
import sys
from dataclasses import replace
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from replanner.advice.day_hours import DayHours, hours_unknown
from replanner.advice.telling import written
from replanner.advice.wording import level_word
from replanner.pictures.day import HEIGHT, WIDTH, day_picture, draw_day
from replanner.pictures.fills import LEVELS, NOT_RIDDEN, UNKNOWN, Fill, level_fill
from replanner.pictures.shapes import Box, Disc, Words
from replanner.pictures.sheet import Sheet
from tests.advice.briefings import ALL, IMPERIAL, MANY, NO_WAY, STALE, SWAP
from tests.pictures.demo_days import DAYS, Planned, planned

STORED = Path(__file__).parents[1] / "data" / "pictures"
SMALL = (WIDTH // 4, HEIGHT // 4)


@pytest.fixture(params=DAYS, ids=str)
def day(request: pytest.FixtureRequest) -> Planned:
    return planned(request.param)


def words(sheet: Sheet) -> list[Words]:
    return [one for one in sheet.shapes if isinstance(one, Words)]


def texts(sheet: Sheet) -> list[str]:
    return [one.text for one in words(sheet)]


def text_at(sheet: Sheet, text: str) -> Words:
    (found,) = [one for one in words(sheet) if one.text == text]
    return found


def boxes(sheet: Sheet, fill: Fill) -> list[Box]:
    return [one for one in sheet.shapes if isinstance(one, Box) and one.fill == fill]


def holds(box: Box, one: Words) -> bool:
    return box.y < one.y < box.y + box.height


def some_hours() -> DayHours:
    """Return made-up figures for SWAP: a front that passes, two hours unknown."""
    bare = hours_unknown(SWAP)
    count = len(bare.hours)
    rain = [max(0.0, 5.0 - abs(n - 4) * 1.5) for n in range(count)]
    gust = [8.0 + 1.4 * n for n in range(count)]
    rain[7] = rain[8] = None
    return replace(
        bare,
        rain=tuple(rain),
        wind_speed_of_gust=tuple(gust),
        legs=tuple(replace(leg, rain=1.2, wind_speed_of_gust=22.0) for leg in bare.legs),
    )


def test_it_is_a_png_for_a_phone(day):
    data = day_picture(day.evening.briefing, day.hours)
    picture = Image.open(BytesIO(data))
    picture.load()
    assert (picture.format, picture.size) == ("PNG", (WIDTH, HEIGHT)) == ("PNG", (1080, 1350))
    assert "Software" not in picture.info
    assert not any("time" in key.lower() or "date" in key.lower() for key in picture.info)
    assert len(data) < 150_000  # patchy signal


def test_the_same_plan_is_the_same_file(day):
    again = day_picture(day.evening.briefing, day.hours)
    assert day_picture(day.evening.briefing, day.hours) == again


def test_each_leg_is_told_at_its_hour(day):
    briefing = day.evening.briefing
    sheet = draw_day(briefing, day.hours)
    zone = ZoneInfo(briefing.zone)
    heights = []
    for leg in briefing.legs:
        clock = f"{leg.start.astimezone(zone):%H:%M} "
        found = [one for one in words(sheet) if one.text.startswith(clock) and one.bold]
        assert found
        heights.append(found[0].y)
    assert heights == sorted(heights)


def test_the_hours_lie_where_their_figures_are(day):
    """A bar begins at the height of its hour's label: read off what was drawn."""
    briefing = day.evening.briefing
    sheet = draw_day(briefing, day.hours)
    zone = ZoneInfo(briefing.zone)
    figures = written(briefing).figures
    inside = [
        (hour, gust)
        for hour, gust in zip(day.hours.hours, day.hours.wind_speed_of_gust, strict=True)
        if f"{hour.astimezone(zone):%H}" in texts(sheet)
        and f"{(hour + timedelta(hours=1)).astimezone(zone):%H}" in texts(sheet)
    ]
    assert len(inside) > 3
    for hour, gust in inside:
        begin, end = (
            text_at(sheet, f"{moment.astimezone(zone):%H}").y
            for moment in (hour, hour + timedelta(hours=1))
        )
        told = [
            one.text for one in words(sheet) if one.x > 840 and abs(one.y - (begin + end) / 2) < 1.0
        ]
        shown = int(np.ceil(gust * 3.6 - 1e-6))  # rounded towards the danger
        assert told == [figures.number(shown)]


def test_light_marks_and_credit_are_told(day):
    briefing = day.evening.briefing
    said = " ".join(texts(draw_day(briefing, day.hours)))
    figures = written(briefing).figures
    assert "INVENTED WEATHER" in said
    assert f"sunset {figures.clock(briefing.light.sunset)}" in said
    assert f"Leave {figures.clock(briefing.departure)}" in said
    for leg in briefing.legs:
        if leg.turn_back is not None:
            assert f"{figures.clock(leg.turn_back)} turn back: " in said
    for point in briefing.decision_points:
        assert f" by {figures.clock(point.latest)}" in said
    assert "INVENTED data" in said
    assert "Invented weather, from no service" in said


def test_marks_in_the_chart_stand_for_the_lines_below(day):
    briefing = day.evening.briefing
    sheet = draw_day(briefing, day.hours)
    discs = [one for one in sheet.shapes if isinstance(one, Disc)]
    wanted = [leg for leg in briefing.legs if leg.turn_back]
    assert len(discs) == len(wanted) + len(briefing.decision_points)
    letters = [told[0] for told in texts(sheet) if told[1:3] == ": "]
    assert letters == [chr(65 + n) for n in range(len(discs))]
    for letter, disc in zip(letters, discs, strict=True):
        assert text_at(sheet, letter).y == pytest.approx(disc.y)


def test_every_level_is_named_beside_its_pattern(day):
    sheet = draw_day(day.evening.briefing, day.hours)
    book = written(day.evening.briefing).words
    for severity, fill in zip((0.0, 2.0, 3.0, 4.0), LEVELS, strict=True):
        name = text_at(sheet, level_word(severity, book))
        assert any(box.x < name.x and holds(box, name) for box in boxes(sheet, fill))


def test_a_leg_that_is_better_not_ridden_says_why():
    said = texts(draw_day(SWAP, some_hours()))
    assert "caution: gust 49 km/h" in said
    grim = replace(SWAP, legs=(*SWAP.legs[:2], replace(SWAP.legs[2], severity=4.0)))
    sheet = draw_day(grim, some_hours())
    assert "no-go: gust 49 km/h" in texts(sheet)
    assert len(boxes(sheet, level_fill(4.0))) == 3  # banner, leg, key


def test_what_is_not_known_is_a_gap_that_says_so():
    sheet = draw_day(SWAP, some_hours())
    (gap,) = boxes(sheet, UNKNOWN)
    assert holds(gap, text_at(sheet, "unknown"))
    assert "0" in texts(sheet)  # dry is told as a figure, not as a gap
    assert len(boxes(draw_day(SWAP, hours_unknown(SWAP)), UNKNOWN)) == 2
    assert "0" not in texts(draw_day(SWAP, hours_unknown(SWAP)))


def test_hours_between_legs_are_drawn_otherwise():
    sheet = draw_day(SWAP, some_hours())
    bars = [box for box in boxes(sheet, NOT_RIDDEN) if box.x > 640]
    assert bars


def test_an_old_plan_is_marked():
    assert "OLD PLAN of Wed 19:30" in texts(draw_day(STALE, hours_unknown(STALE)))
    assert not any("OLD" in told for told in texts(draw_day(SWAP, some_hours())))


def test_units_are_the_riders():
    said = texts(draw_day(IMPERIAL, some_hours()))
    assert "gusts, mph" in said
    assert "rain, in/h" in said
    assert "INVENTED WEATHER" not in said


def test_a_day_without_a_plan_says_so():
    sheet = draw_day(NO_WAY, hours_unknown(NO_WAY))
    assert "Nothing is ridden" in texts(sheet)
    assert "gusts, km/h" not in texts(sheet)


@pytest.mark.parametrize("name", ALL)
def test_nothing_written_leaves_the_sheet(name):
    briefing = ALL[name]
    sheet = draw_day(briefing, hours_unknown(briefing))
    for one in words(sheet):
        left, top, right, bottom = one.area
        assert left >= 0, one.text
        assert right <= WIDTH, one.text
        assert top >= 0, one.text
        assert bottom <= HEIGHT, one.text


def test_letters_the_font_lacks_are_no_boxes():
    said = " ".join(texts(draw_day(MANY, hours_unknown(MANY))))
    assert "山" not in said
    assert "leg4" in said  # its name cannot be written: the id stands for it


@settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(st.text(min_size=1, max_size=30), min_size=4, max_size=4))
def test_no_name_breaks_the_picture(names):
    wild = replace(
        SWAP,
        legs=tuple(
            replace(leg, name=f"{name} $x_{{1$")
            for leg, name in zip(SWAP.legs, names, strict=False)
        ),
        base_from=names[3],
    )
    assert day_picture(wild, some_hours())


def grey(data: bytes) -> np.ndarray:
    picture = Image.open(BytesIO(data)).convert("L").resize(SMALL, Image.Resampling.BOX)
    return np.asarray(picture, np.float64)


def far(one: np.ndarray, other: np.ndarray) -> float:
    """Return the root mean square difference of two grey pictures, 0..255."""
    return float(np.sqrt(np.mean((one - other) ** 2)))


@pytest.mark.parametrize("name", ["swap", "stale"])
def test_it_looks_as_it_did_when_it_was_looked_at(name):
    briefing = {"swap": SWAP, "stale": STALE}[name]
    hours = some_hours() if name == "swap" else hours_unknown(briefing)
    stored = np.asarray(Image.open(STORED / f"day_{name}.png"), np.float64)
    drawn = grey(day_picture(briefing, hours))
    assert far(drawn, stored) < 8.0
    other = grey(day_picture(replace(briefing, legs=briefing.legs[:2]), hours))
    assert far(other, stored) > 8.0  # a leg less is seen


def test_the_core_does_not_draw():
    """Planning loads nothing that draws: it takes memory of each process that plans."""
    code = "import sys, replanner.wiring, replanner.advice.day_hours as _; "
    code += "print('PIL' in sys.modules)"
    done = subprocess.run(  # noqa: S603 - our own interpreter on our own words
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "False"
