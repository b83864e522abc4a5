"""Shapes turned into pixels, and pixels into a PNG."""

from collections.abc import Iterable
from functools import lru_cache
from io import BytesIO

from PIL import Image, ImageDraw

from replanner.pictures.fills import INK, PAPER, Pattern
from replanner.pictures.letters import font
from replanner.pictures.shapes import Box, Disc, Line, Shape, Words

_OUTLINE = 2
_COLOURS = 64
_FINE = 4  # slanted and round edges are drawn so many times as large, and made smaller
_RIM = 2
_GROUND = 3  # white beside the letters that stand on paper
_PIXELS_ON_AND_OFF = {"dashed": (12, 7), "dotted": (2, 5)}
_TILE = 24  # of a pattern; its lines lie so far apart, or a half or third of it
_PATTERN_WIDTH = 1.5


def painted(shapes: Iterable[Shape], width: int, height: int) -> bytes:
    """Return a PNG of shapes, what comes later on top. [px].

    In few colours it has a third of the bytes: it is sent where signal is patchy.
    """
    sheet = Image.new("RGB", (width, height), PAPER)
    draw = ImageDraw.Draw(sheet)
    for shape in shapes:
        match shape:
            case Box():
                _box(sheet, draw, shape)
            case Line():
                _line(draw, shape)
            case Disc():
                _disc(sheet, shape)
            case Words():
                _words(draw, shape)
    few = sheet.quantize(_COLOURS, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    held = BytesIO()
    few.save(held, "png")
    return held.getvalue()


def _box(sheet: Image.Image, draw: ImageDraw.ImageDraw, box: Box) -> None:
    left, top = round(box.x), round(box.y)
    right, bottom = max(round(box.x + box.width), left), max(round(box.y + box.height), top)
    draw.rectangle((left, top, right, bottom), fill=box.fill.colour)
    inside = (left, top, min(right + 1, sheet.width), min(bottom + 1, sheet.height))
    if box.fill.pattern is not Pattern.PLAIN and inside[0] < inside[2] and inside[1] < inside[3]:
        mask = _pattern(box.fill.pattern, sheet.size).crop(inside)
        sheet.paste(INK, inside, mask)
    if not box.dotted:
        draw.rectangle((left, top, right, bottom), outline=INK, width=_OUTLINE)
        return
    for first, last in _pieces(left, right, "dotted"):
        draw.rectangle((first, top, last, top + _OUTLINE - 1), fill=INK)
        draw.rectangle((first, bottom - _OUTLINE + 1, last, bottom), fill=INK)
    for first, last in _pieces(top, bottom, "dotted"):
        draw.rectangle((left, first, left + _OUTLINE - 1, last), fill=INK)
        draw.rectangle((right - _OUTLINE + 1, first, right, last), fill=INK)


def _line(draw: ImageDraw.ImageDraw, line: Line) -> None:
    top = round(line.y - line.width / 2)
    for first, last in _pieces(round(line.x), round(line.to_x), line.dash):
        draw.rectangle((first, top, last, top + line.width - 1), fill=INK)


def _pieces(first: int, last: int, dash: str) -> list[tuple[int, int]]:
    """Return the drawn pieces of a line, first and last pixel of each."""
    if dash == "whole":
        return [(first, last)]
    on, off = _PIXELS_ON_AND_OFF[dash]
    return [(at, min(at + on - 1, last)) for at in range(first, last + 1, on + off)]


def _disc(sheet: Image.Image, disc: Disc) -> None:
    for radius, colour in ((disc.radius + _RIM / 2, PAPER), (disc.radius - _RIM / 2, INK)):
        mask = _round(radius)
        sheet.paste(colour, (round(disc.x) - mask.width // 2, round(disc.y) - mask.height // 2),
                    mask)  # fmt: skip


def _words(draw: ImageDraw.ImageDraw, words: Words) -> None:
    if words.on_paper:
        left, top, right, bottom = words.area
        ground = (left - _GROUND, top - _GROUND, right + _GROUND, bottom + _GROUND)
        draw.rectangle(ground, fill=PAPER)
    draw.text(
        words.foot,
        words.text,
        fill=PAPER if words.white else INK,
        font=font(words.size, bold=words.bold),
        anchor="ls",
    )


@lru_cache(maxsize=8)
def _round(radius: float) -> Image.Image:
    """Return the mask of a disc."""
    side = 2 * round(radius) + 1
    large = Image.new("L", (side * _FINE, side * _FINE))
    middle, reach = side * _FINE / 2, radius * _FINE
    around = (middle - reach, middle - reach, middle + reach, middle + reach)
    ImageDraw.Draw(large).ellipse(around, fill=255)
    return large.resize((side, side), Image.Resampling.BOX)


@lru_cache(maxsize=8)
def _pattern(pattern: Pattern, size: tuple[int, int]) -> Image.Image:
    """Return the mask of a pattern that lies all over a sheet."""
    tile = _tile(pattern)
    sheet = Image.new("L", size)
    for x in range(0, size[0], _TILE):
        for y in range(0, size[1], _TILE):
            sheet.paste(tile, (x, y))
    return sheet


def _tile(pattern: Pattern) -> Image.Image:
    """Return a piece of a pattern that can be laid beside itself."""
    side = _TILE * _FINE
    large = Image.new("L", (side, side))
    draw = ImageDraw.Draw(large)
    if pattern is Pattern.DOTS:
        step, reach = side // 3, 1.2 * _FINE
        for x in range(step // 2, side, step):
            for y in range(step // 2, side, step):
                draw.ellipse((x - reach, y - reach, x + reach, y + reach), fill=255)
    else:
        apart = side // pattern.lines
        wide = round(_PATTERN_WIDTH * _FINE)
        for at in range(-2 * side, side, apart):
            if pattern.rises:
                draw.line((at, side * 2, at + side * 3, -side), fill=255, width=wide)
            if pattern.falls:
                draw.line((at, -side, at + side * 3, side * 2), fill=255, width=wide)
    return large.resize((_TILE, _TILE), Image.Resampling.BOX)
