"""The picture of a day: time runs down the sheet, so that names have room to be read.

From left to right: the hours, the light, the legs, rain, gusts. Below: what has an hour of its
own, the key, where the figures are of, credit and age of the data. Everything that matters is
told by words and patterns, the colours only help.
"""

from replanner.advice.briefing import Briefing, DayHours
from replanner.advice.headline import headline
from replanner.advice.message_lines import in_by
from replanner.advice.telling import Telling, written
from replanner.advice.trust_lines import source_of_data
from replanner.advice.wording import level_word
from replanner.hazards.model import AVOID, CAUTION, NO_GO
from replanner.pictures.day_chart import Chart
from replanner.pictures.day_layout import Frame, marks_of
from replanner.pictures.fills import INK, Fill, level_fill
from replanner.pictures.letters import text_width
from replanner.pictures.lines import fitted, wrapped
from replanner.pictures.sheet import Sheet

WIDTH, HEIGHT = 1080, 1350  # portrait 4:5: chats show it whole, in the width of a phone
_MARGIN = 36.0
_TITLE, _TEXT, _SMALL = 46.0, 36.0, 28.0
_LEADING = 1.3
_MOST_MARKS = 5


def day_picture(briefing: Briefing, hours: DayHours) -> bytes:
    """Draw a day's legs against the hours, with rain, gusts and daylight.

    Parameters
    ----------
    briefing : Briefing
        A day without legs is drawn with its light only; an old plan is marked.
    hours : DayHours
        Of that briefing: `advice.day_hours.day_hours`, or `hours_unknown` where the forecast is
        gone. What is not known is drawn as a gap that says so.

    Returns
    -------
    bytes
        A PNG of 1080 by 1350 pixels; the same bytes for the same plan on one machine.
    """
    return draw_day(briefing, hours).png()


def draw_day(briefing: Briefing, hours: DayHours) -> Sheet:
    """Draw the same on a sheet."""
    sheet = Sheet(WIDTH, HEIGHT)
    telling = written(briefing)
    top = _head(sheet, telling)
    lines = _foot_lines(telling, hours)
    bottom = HEIGHT - _MARGIN - sum(size for _, size in lines) * _LEADING - _KEY
    frame = Frame(briefing=briefing, hours=hours, top=top, bottom=bottom)
    Chart(sheet, telling, frame).draw()
    _foot(sheet, telling, lines, bottom)
    return sheet


_KEY = 62.0


def _head(sheet: Sheet, telling: Telling) -> float:
    """Draw title and banners; return where the chart begins. [px]."""
    briefing, say = telling.briefing, telling.words.say
    banners = []
    if briefing.plan_stale:
        banners.append(say("OLD PLAN of {time}", time=telling.figures.clock(briefing.made_at)))
    if briefing.origin.invented:
        banners.append(say("INVENTED WEATHER"))
    elif briefing.invented:
        banners.append(say("INVENTED TOUR"))
    y = _MARGIN
    for banner in banners:
        sheet.box(0, y - _MARGIN / 2, WIDTH, _TEXT * 1.5, Fill(INK))
        sheet.text(
            WIDTH / 2, y - _MARGIN / 2 + _TEXT * 0.75, banner, _TEXT,
            bold=True, white=True, side="center", upright="center",
        )  # fmt: skip
        y += _TEXT * 1.6
    room = WIDTH - 2 * _MARGIN
    for line in wrapped(headline(telling), _TITLE, room, most=2, bold=True):
        sheet.text(_MARGIN, y, line, _TITLE, bold=True)
        y += _TITLE * _LEADING
    second = in_by(telling)
    if briefing.departure is not None:
        leave = say("Leave {time}", time=telling.figures.clock(briefing.departure))
        second = ", ".join(filter(None, (leave, second[:1].lower() + second[1:])))
    if second:
        sheet.text(_MARGIN, y, fitted(second, _TEXT, room), _TEXT)
        y += _TEXT * _LEADING
    return y + 8.0


def _foot_lines(telling: Telling, hours: DayHours) -> list[tuple[str, float]]:
    """Return what is said below the chart, with the size of each line. [px]."""
    say, room = telling.words.say, WIDTH - 2 * _MARGIN
    lines: list[tuple[str, float]] = []
    for mark in marks_of(telling)[:_MOST_MARKS]:
        text = f"{mark.letter}: {mark.text}"
        lines += [(line, _TEXT) for line in wrapped(text, _TEXT, room, most=2)]
    if hours.legs:
        told = say("Rain, gusts: worst stretch of each leg, worst hour beside too")
        lines += [(line, _SMALL) for line in wrapped(told, _SMALL, room, most=2)]
    data = source_of_data(telling, 200)
    lines += [(line, _SMALL) for line in wrapped(data, _SMALL, room, most=2)]
    return lines


def _foot(sheet: Sheet, telling: Telling, lines: list[tuple[str, float]], bottom: float) -> None:
    """Draw the key of the levels and the lines below it."""
    x, y = _MARGIN, bottom + 14.0
    for severity in (0.0, CAUTION, AVOID, NO_GO):
        sheet.box(x, y, 56, 36, level_fill(severity))
        word = level_word(severity, telling.words)
        sheet.text(x + 68, y + 18, word, _TEXT, upright="center")
        x += 68 + text_width(word, _TEXT) + 44
    y += _KEY - 14.0
    for line, size in lines:
        sheet.text(_MARGIN, y, line, size)
        y += size * _LEADING
