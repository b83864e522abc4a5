"""The chart of a day: hours, light, legs, rain and gusts, drawn between two heights."""

from datetime import datetime, timedelta
from itertools import groupby

from replanner.advice.briefing import LegHours, PlannedLeg
from replanner.advice.figures import Scale, careful, scale_of
from replanner.advice.names import clean
from replanner.advice.telling import Telling
from replanner.advice.wording import level_word
from replanner.hazards.model import CAUTION
from replanner.pictures.day_layout import Frame, marks_of
from replanner.pictures.fills import (
    DAY,
    GUST,
    NIGHT,
    NOT_RIDDEN,
    PAPER,
    RAIN,
    TWILIGHT,
    UNKNOWN,
    Fill,
    level_fill,
)
from replanner.pictures.letters import has_letters, text_width
from replanner.pictures.lines import fitted
from replanner.pictures.shapes import Dash
from replanner.pictures.sheet import Sheet

_HOUR = timedelta(hours=1)
_HEAD = 44.0
_DISC = 20.0
_TEXT, _SMALL, _LEAST = 32.0, 28.0, 24.0
_LEADING = 1.12
_SHORTEST_NAME = 8
_NARROW = 0.35  # of a letter's height: few are narrower

# From left to right. [px]
_HOURS_END = 68.0
_LIGHT, _LIGHT_WIDTH = 106.0, 42.0
_LEGS, _LEGS_WIDTH, _STRIPE = 156.0, 474.0, 46.0
_RAIN, _RAIN_WIDTH = 648.0, 180.0
_GUST, _GUST_WIDTH = 846.0, 198.0
_RIGHT = _GUST + _GUST_WIDTH

# What fills a column at least, so that a breeze does not look like a storm: a heavy shower, and
# a gust that moves every machine. Assumptions.
_FULL_RAIN, _FULL_GUST = 6.0, 28.0  # mm/h, m/s


class Chart:
    """Draws the chart of a day on a sheet."""

    def __init__(self, sheet: Sheet, telling: Telling, frame: Frame) -> None:
        self._sheet, self._telling = sheet, telling
        self._frame = Frame(
            briefing=frame.briefing, hours=frame.hours, top=frame.top + _HEAD, bottom=frame.bottom
        )
        self._say = telling.words.say
        self._rain = scale_of("mm/h", telling.briefing.units)
        self._gust = scale_of("m/s", telling.briefing.units)

    def draw(self) -> None:
        """Draw everything, what lies on top last."""
        self._light()
        self._hours()
        hours = self._frame.hours
        if hours.hours:
            self._heads()
        self._column(hours.rain, _FULL_RAIN, self._rain, RAIN, _RAIN, _RAIN_WIDTH)
        self._column(hours.wind_speed_of_gust, _FULL_GUST, self._gust, GUST, _GUST, _GUST_WIDTH)
        self._suns()
        self._legs()
        self._marks()
        if not self._frame.briefing.legs:
            middle = (self._frame.top + self._frame.bottom) / 2
            told = self._say("Nothing is ridden")
            self._sheet.text(
                (_LEGS + _RIGHT) / 2, middle, told, _TEXT, side="center", on_paper=True
            )

    # -------------------------------------------------------------------------- light and hours

    def _light(self) -> None:
        light = self._frame.briefing.light
        begin, end = self._frame.begin, self._frame.end
        moments = (light.civil_dawn, light.sunrise, light.sunset, light.civil_dusk)
        fills = (NIGHT, TWILIGHT, DAY, TWILIGHT, NIGHT)
        known = [(at, n) for n, at in enumerate(moments) if at is not None]
        if not known:
            return  # light or dark all day: the title says which
        cuts = [begin, *(min(max(at, begin), end) for at, _ in known), end]
        inside = [fills[known[0][1]], *(fills[n + 1] for _, n in known)]
        for fill, first, last in zip(inside, cuts[:-1], cuts[1:], strict=True):
            if last > first:
                top = self._frame.y(first)
                height = self._frame.y(last) - top
                self._sheet.box(_LIGHT, top, _LIGHT_WIDTH, height, fill)

    def _hours(self) -> None:
        zone = self._telling.figures.zone
        offset = self._frame.begin.astimezone(zone).utcoffset() or timedelta()
        for tick in self._frame.ticks(int(offset.total_seconds()) % 3600):
            y = self._frame.y(tick)
            self._sheet.line(_LEGS, _RIGHT, y, width=1, dash="dotted")
            self._sheet.text(
                _HOURS_END, y, f"{tick.astimezone(zone):%H}", _TEXT, side="right", upright="center"
            )

    def _heads(self) -> None:
        y = self._frame.top - _HEAD / 2
        for name, scale, x in (
            (self._say("rain"), self._rain, _RAIN),
            (self._say("gusts"), self._gust, _GUST),
        ):
            unit = self._say(scale.written, n="").strip()
            told = self._say("{name}, {unit}", name=name, unit=unit)
            self._sheet.text(x, y, told, _SMALL, bold=True, upright="center")

    def _suns(self) -> None:
        light, say = self._frame.briefing.light, self._say
        told: tuple[tuple[datetime | None, str, Dash, bool], ...] = (
            (light.sunrise, "sunrise {time}", "whole", True),
            (light.sunset, "sunset {time}", "dashed", True),
            (light.civil_dusk, "dusk {time}", "whole", False),
        )
        for at, sentence, dash, above in told:
            if at is None or not self._frame.begin < at < self._frame.end:
                continue
            y = self._frame.y(at)
            self._sheet.line(_LIGHT, _RIGHT, y, width=2 if above else 4, dash=dash)
            words = say(sentence, time=self._telling.figures.clock(at))
            beside = self._ridden_beside(y)
            self._sheet.text(
                _RIGHT if beside else _LEGS + 8, y + (-4 if above else 6), words, _SMALL,
                side="right" if beside else "left", upright="bottom" if above else "top",
                on_paper=True,
            )  # fmt: skip

    def _ridden_beside(self, y: float) -> bool:
        frame = self._frame
        return any(
            frame.y(leg.start) - _TEXT < y < frame.y(leg.end) + _TEXT for leg in frame.briefing.legs
        )

    # -------------------------------------------------------------------------------------- legs

    def _legs(self) -> None:
        free = self._frame.top
        figures = {leg.leg: leg for leg in self._frame.hours.legs}
        for leg in self._frame.briefing.legs:
            top, end = self._frame.y(leg.start), self._frame.y(leg.end)
            self._sheet.box(_LEGS, top, _LEGS_WIDTH, end - top, Fill(PAPER))
            self._sheet.box(_LEGS, top, _STRIPE, end - top, level_fill(leg.severity))
            free = self._leg_text(leg, figures.get(leg.id), max(top, free), end)

    def _leg_text(self, leg: PlannedLeg, figures: LegHours | None, top: float, end: float) -> float:
        """Write as many lines on a leg as it has room for; return where the next may begin."""
        size = min(_TEXT, max(_LEAST, (end - top) * 0.9))
        x, room, y = _LEGS + _STRIPE + 8, _LEGS_WIDTH - _STRIPE - 16, top + 3
        name = fitted(self._name(leg, size, room), size, room, bold=True)
        self._sheet.text(x, y, name, size, bold=True)
        y += size * _LEADING
        for line in self._lines(leg, figures):
            if y + _SMALL > end:
                break
            self._sheet.text(x, y, fitted(line, _SMALL, room), _SMALL)
            y += _SMALL * _LEADING
        return y

    def _lines(self, leg: PlannedLeg, figures: LegHours | None) -> list[str]:
        """Return what is told of a leg below its name: danger, weather, where it is met."""
        lines = [self._danger(leg)] if leg.severity >= CAUTION else []
        if figures is not None:
            lines += [self._met(figures), self._where(figures)]
        return lines

    def _name(self, leg: PlannedLeg, size: float, room: float) -> str:
        """Return hour and name, in its first words where it is too long; told apart."""
        clock = self._telling.figures.clock(leg.start)
        if not has_letters(clean(leg.name)):
            return f"{clock} {leg.id.replace('_', ' ')}"
        most = int(room / (_NARROW * size))  # more letters than that never fit
        for width in range(min(len(leg.name), most), _SHORTEST_NAME, -1):
            told = f"{clock} {self._telling.leg(leg.id, width)}"
            if text_width(told, size, bold=True) <= room:
                return told
        return f"{clock} {self._telling.leg(leg.id, _SHORTEST_NAME)}"

    def _danger(self, leg: PlannedLeg) -> str:
        word = level_word(leg.severity, self._telling.words)
        if leg.hazard is None:
            return word
        hazard = self._telling.hazard(leg.hazard, limit=False)
        return self._say("{level}: {hazard}", level=word, hazard=hazard)

    def _met(self, figures: LegHours) -> str:
        rain, gust = figures.rain, figures.wind_speed_of_gust
        if rain is None and gust is None:
            return self._say("rain and gusts unknown")
        return self._say(
            "rain {rain}, gust {gust}",
            rain=self._figure(rain, self._rain),
            gust=self._figure(gust, self._gust),
        )

    def _where(self, figures: LegHours) -> str:
        telling = self._telling
        if figures.elevation_m is None:
            return clean(figures.stretch)
        scale = scale_of("m", telling.figures.units)
        shown = careful(figures.elevation_m, None, scale)
        height = telling.figures.measure(shown.value or 0.0, shown.digits, scale)
        return self._say("{place}, {height}", place=clean(figures.stretch), height=height)

    def _figure(self, value: float | None, scale: Scale) -> str:
        shown = careful(value, None, scale)
        if shown.value is None:
            return self._say("unknown")
        return self._telling.figures.number(shown.value, shown.digits)

    # ----------------------------------------------------------------------------------- weather

    def _column(
        self,
        values: tuple[float | None, ...],
        full: float,
        scale: Scale,
        fill: Fill,
        x: float,
        width: float,
    ) -> None:
        """Draw a bar for each hour with its figure, and a gap that says so where none is known."""
        most = max([full, *(value for value in values if value is not None)])
        hours = list(zip(self._frame.hours.hours, values, strict=True))
        shown = [(at, v) for at, v in hours if self._span(at)[1] > self._span(at)[0]]
        for missing, run in groupby(shown, key=lambda one: one[1] is None):
            part = list(run)
            if missing:
                self._gap(part[0][0], part[-1][0], x, width)
                continue
            for at, value in part:
                if value is not None:
                    ridden = self._ridden(at)
                    self._bar(at, value / most * width, x, fill if ridden else NOT_RIDDEN)
                    self._number(at, self._figure(value, scale), value / most * width, x, width)

    def _span(self, at: datetime) -> tuple[float, float]:
        return self._frame.y(at), self._frame.y(at + _HOUR)

    def _bar(self, at: datetime, length: float, x: float, fill: Fill) -> None:
        top, end = self._span(at)
        if length >= 1.0:
            self._sheet.box(x, top + 2, length, end - top - 4, fill)

    def _number(self, at: datetime, told: str, length: float, x: float, width: float) -> None:
        top, end = self._span(at)
        size = min(_TEXT, end - top - 6)
        if size < _LEAST:  # an hour cut off at the chart's end, or one of very many
            return
        beside = length + 8 + text_width(told, size) <= width
        self._sheet.text(
            x + (length + 6 if beside else width - 6), (top + end) / 2, told, size,
            side="left" if beside else "right", upright="center", on_paper=not beside,
        )  # fmt: skip

    def _gap(self, first: datetime, last: datetime, x: float, width: float) -> None:
        top, end = self._frame.y(first), self._frame.y(last + _HOUR)
        self._sheet.box(x, top + 2, width, end - top - 4, UNKNOWN, dotted=True)
        told = fitted(self._say("unknown"), _SMALL, width - 12)
        self._sheet.text(
            x + width / 2, (top + end) / 2, told, _SMALL,
            side="center", upright="center", on_paper=True,
        )  # fmt: skip

    def _ridden(self, at: datetime) -> bool:
        """Return whether a leg is ridden at any time of an hour."""
        legs = self._frame.briefing.legs
        return any(leg.start < at + _HOUR and leg.end > at for leg in legs)

    # ------------------------------------------------------------------------------------- marks

    def _marks(self) -> None:
        before, x = -1.0e9, 0.0
        for mark in marks_of(self._telling):
            y = self._frame.y(mark.at)
            beside = y - before < 2 * _DISC
            x = x - 2 * _DISC if beside else _LIGHT + _LIGHT_WIDTH / 2
            before = y
            self._sheet.disc(x, y, _DISC)
            self._sheet.text(
                x, y, mark.letter, _SMALL, bold=True, white=True, side="center", upright="center"
            )
