"""Draws how time and memory grow: curves over axes in powers, told apart in grey by their marks."""

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from math import ceil, floor, log10

from PIL import Image, ImageDraw

from replanner.pictures.letters import font

WIDTH, HEIGHT, FINE = 1800, 900, 2  # lines and marks are drawn larger, and made smaller
LEFT, RIGHT, TOP, BOTTOM, APART = 70, 20, 100, 60, 70
SIZE = 17
INK, FAINT, PAPER = 0, 205, 255
MARKS = ("disc", "ring", "square", "frame", "cross", "slash", "dot")
WORDS = {
    "legs": "legs, one search",
    "asked": "legs, 12 questions",
    "slots": "slots of a day",
    "members": "members",
}

Pixel = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """What was measured along one axis; `at`, times and memory by point. [ms] [MB]"""

    axis: str
    name: str
    at: tuple[int, ...]
    milliseconds: tuple[float, ...]
    megabytes: tuple[float, ...]


class _Panel:
    """One pair of axes in powers, over its part of the sheet."""

    def __init__(
        self,
        draw: ImageDraw.ImageDraw,
        box: tuple[float, float, float, float],
        at: Sequence[float],
        values: Sequence[float],
    ) -> None:
        self._draw, self._box = draw, box
        self._across = log10(min(at)) - 0.06, log10(max(at)) + 0.06
        low, high = floor(log10(min(values))), ceil(log10(max(values)))
        self._up = low, max(high, low + 1)

    def _at(self, across: float, up: float) -> Pixel:
        left, top, right, bottom = self._box
        x = (log10(across) - self._across[0]) / (self._across[1] - self._across[0])
        y = (log10(up) - self._up[0]) / (self._up[1] - self._up[0])
        return left + x * (right - left), bottom - y * (bottom - top)

    def axes(self, ticks: Sequence[int], below: str, beside: str) -> None:
        """Draw the frame, the lines of the powers, and what is said beside them."""
        left, top, right, bottom = self._box
        for power in range(self._up[0], self._up[1] + 1):
            for digit in range(1, 10):
                value = digit * 10.0**power
                if log10(value) > self._up[1] + 1e-9:
                    break
                _, y = self._at(10 ** self._across[0], value)
                self._line([(left, y), (right, y)], 1, FAINT)
                if digit in {1, 3}:
                    self._write((left - 8, y), f"{value:g}", "rm")
        for tick in ticks:
            x, _ = self._at(tick, 10.0 ** self._up[0])
            self._line([(x, bottom), (x, bottom + 6)], 2, INK)
            self._write((x, bottom + 10), str(tick), "mt")
        corners = [(left, top), (right, top), (right, bottom), (left, bottom), (left, top)]
        self._line(corners, 2, INK)
        self._write(((left + right) / 2, bottom + 34), below, "mt")
        self._write((left, top - 24), beside, "lt")

    def curve(self, at: Sequence[int], values: Sequence[float], mark: str) -> None:
        """Draw points joined by a line."""
        points = [self._at(x, max(y, 10.0 ** self._up[0])) for x, y in zip(at, values, strict=True)]
        self._line(points, 2, INK)
        for point in points:
            draw_mark(self._draw, point, mark)

    def limit(self, value: float, words: str) -> None:
        """Draw a level line of dashes, told in words, where it lies within the axes."""
        if not self._up[0] <= log10(value) <= self._up[1]:
            return
        left, _, right, _ = self._box
        _, y = self._at(10 ** self._across[0], value)
        for x in range(round(left), round(right), 16):
            self._line([(x, y), (min(x + 9, right), y)], 3, INK)
        self._write((left + 6, y - 4), words, "lb")

    def _line(self, points: list[Pixel], width: int, ink: int) -> None:
        fine = [(x * FINE, y * FINE) for x, y in points]
        self._draw.line(fine, fill=ink, width=width * FINE, joint="curve")

    def _write(self, at: Pixel, words: str, anchor: str) -> None:
        write(self._draw, at, words, anchor)


def write(draw: ImageDraw.ImageDraw, at: Pixel, words: str, anchor: str) -> None:
    """Write on a sheet drawn larger."""
    draw.text((at[0] * FINE, at[1] * FINE), words, fill=INK, font=font(SIZE * FINE), anchor=anchor)


def draw_mark(draw: ImageDraw.ImageDraw, at: Pixel, mark: str) -> None:
    """Draw one of the marks, on paper of its own so that lines do not run through it."""
    reach, width = 6 * FINE, 2 * FINE
    x, y = at[0] * FINE, at[1] * FINE
    box = (x - reach, y - reach, x + reach, y + reach)
    match mark:
        case "disc":
            draw.ellipse(box, fill=INK)
        case "ring":
            draw.ellipse(box, fill=PAPER, outline=INK, width=width)
        case "square":
            draw.rectangle(box, fill=INK)
        case "frame":
            draw.rectangle(box, fill=PAPER, outline=INK, width=width)
        case "dot":
            draw.ellipse((x - reach / 2, y - reach / 2, x + reach / 2, y + reach / 2), fill=INK)
        case _:
            draw.line((x - reach, y + reach, x + reach, y - reach), fill=INK, width=width)
            if mark == "cross":
                draw.line((x - reach, y - reach, x + reach, y + reach), fill=INK, width=width)


def picture(curves: Sequence[Curve], most_mb: float) -> bytes:
    """Return a PNG: a column of axes for each thing varied, time above and memory below."""
    sheet = Image.new("L", (WIDTH * FINE, HEIGHT * FINE), PAPER)
    draw = ImageDraw.Draw(sheet)
    names = list(dict.fromkeys(curve.name for curve in curves))
    marks = dict(zip(names, MARKS[: len(names)], strict=True))
    axes = list(dict.fromkeys(curve.axis for curve in curves))
    width = (WIDTH - LEFT - RIGHT - APART * (len(axes) - 1)) / len(axes)
    height = (HEIGHT - TOP - 2 * BOTTOM - APART) / 2
    for column, axis in enumerate(axes):
        own = [curve for curve in curves if curve.axis == axis]
        ticks = sorted({at for curve in own for at in curve.at})
        left = LEFT + column * (width + APART)
        for row, beside in enumerate(("processor time of a day [ms]", "memory of a process [MB]")):
            top = TOP + row * (height + APART + BOTTOM / 2)
            told = [curve.megabytes if row else curve.milliseconds for curve in own]
            values = [value for each in told for value in each]
            box = left, top, left + width, top + height
            panel = _Panel(draw, box, ticks, [*values, *([most_mb] if row else [])])
            panel.axes(ticks, WORDS[axis], beside)
            if row:
                panel.limit(most_mb, f"{most_mb:g} MB")
            for curve, each in zip(own, told, strict=True):
                panel.curve(curve.at, each, marks[curve.name])
    for place, name in enumerate(names):
        x, y = LEFT + (place % 4) * 350, 22 + (place // 4) * 28
        draw_mark(draw, (x, y), marks[name])
        write(draw, (x + 14, y), name, "lm")
    held = BytesIO()
    sheet.resize((WIDTH, HEIGHT), Image.Resampling.BOX).save(held, "png")
    return held.getvalue()
