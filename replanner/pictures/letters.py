"""The letters of the pictures: one family, which comes with us, so that all machines draw alike."""

from functools import lru_cache
from importlib.resources import files
from io import BytesIO

from fontTools.ttLib import TTFont
from PIL.ImageFont import FreeTypeFont, Layout

_MISSING = "\u2026"


@lru_cache(maxsize=64)
def font(size: float, *, bold: bool = False) -> FreeTypeFont:
    """Return the font whose em is `size` high. [px]."""
    return FreeTypeFont(BytesIO(_file(bold=bold)), size, layout_engine=Layout.BASIC)


def text_width(words: str, size: float, *, bold: bool = False) -> float:
    """Return how wide a line of text is drawn. [px]."""
    return float(font(size, bold=bold).getlength(drawable(words)))


@lru_cache(maxsize=64)
def rise_and_fall(size: float, *, bold: bool = False) -> tuple[float, float]:
    """Return how far letters reach above the line they stand on, and below it. [px].

    Those of any line: one without a tall letter stands as high as the others.
    """
    letters = font(size, bold=bold)
    _, top, _, _ = letters.getbbox("l", anchor="ls")
    _, _, _, bottom = letters.getbbox("p", anchor="ls")
    return -float(top), float(bottom)


def has_letters(words: str) -> bool:
    """Return whether the font has every letter of a text."""
    return all(ord(letter) in _letters() for letter in words)


def drawable(words: str) -> str:
    """Return a text with an ellipsis wherever the font has no letters for it."""
    kept = [letter if ord(letter) in _letters() else _MISSING for letter in words]
    return "".join(
        letter
        for n, letter in enumerate(kept)
        if letter != _MISSING or n == 0 or kept[n - 1] != _MISSING
    )


@lru_cache(maxsize=2)
def _file(*, bold: bool) -> bytes:
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return (files("replanner.pictures") / "fonts" / name).read_bytes()


@lru_cache(maxsize=1)
def _letters() -> frozenset[int]:
    """Return the code points both fonts have."""
    both = (TTFont(BytesIO(_file(bold=bold)), lazy=True) for bold in (False, True))
    plain, bold = (frozenset(one.getBestCmap()) for one in both)
    return plain & bold
