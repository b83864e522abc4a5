"""A sheet of pixels to draw on: counted from the top left corner, text in what the font has.

No setting of the machine has a say: fonts, widths and colours are all named here.
"""

from functools import lru_cache
from io import BytesIO
from typing import Literal

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont
from matplotlib.ft2font import FT2Font
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, Rectangle
from matplotlib.text import Text
from matplotlib.transforms import IdentityTransform
from PIL import Image

from replanner.pictures.fills import INK, PAPER, Fill

_DPI = 100
_POINTS_PER_INCH = 72
_FAMILY = "DejaVu Sans"  # comes with matplotlib
_PATTERN_WIDTH = 1.5
_COLOURS = 64
_MISSING = "\u2026"

Side = Literal["left", "center", "right"]
Upright = Literal["top", "center", "bottom"]
Dash = Literal["-", "--", ":"]


class Sheet:
    """A picture in the making.

    Parameters
    ----------
    width, height : int
        [px]
    """

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height = width, height
        self._figure = Figure(figsize=(width / _DPI, height / _DPI), dpi=_DPI, facecolor=PAPER)
        self._canvas = FigureCanvasAgg(self._figure)

    def box(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        fill: Fill,
        *,
        edge: float = 2.0,
        dotted: bool = False,
    ) -> None:
        """Draw a filled box; `edge` is the width of its outline. [px]."""
        self._add(
            Rectangle(
                (x, self.height - y - height),
                width,
                height,
                facecolor=fill.colour,
                edgecolor=INK,
                linewidth=_points(edge),
                linestyle=":" if dotted else "-",
                hatch=fill.pattern or None,
                hatch_linewidth=_PATTERN_WIDTH,
                transform=IdentityTransform(),
            )
        )

    def line(
        self, x: float, y: float, to_x: float, to_y: float, *, width: float, dash: Dash = "-"
    ) -> None:
        """Draw a straight line. [px]."""
        self._add(
            Line2D(
                (x, to_x),
                (self.height - y, self.height - to_y),
                color=INK,
                linewidth=_points(width),
                linestyle=dash,
                transform=IdentityTransform(),
            )
        )

    def disc(self, x: float, y: float, radius: float) -> None:
        """Draw a black disc. [px]."""
        self._add(
            Circle(
                (x, self.height - y),
                radius,
                facecolor=INK,
                edgecolor=PAPER,
                linewidth=_points(2.0),
                transform=IdentityTransform(),
            )
        )

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: float,
        *,
        bold: bool = False,
        white: bool = False,
        side: Side = "left",
        upright: Upright = "top",
        on_paper: bool = False,
    ) -> None:
        """Write a line of text, `size` high [px]; `on_paper`: on a white ground of its own."""
        ground = {"facecolor": PAPER, "edgecolor": "none", "pad": 2.0, "alpha": 1.0}
        self._add(
            Text(
                x,
                self.height - y,
                drawable(words),
                fontproperties=_font(size, bold=bold),
                color=PAPER if white else INK,
                horizontalalignment=side,
                verticalalignment=upright,
                bbox=ground if on_paper else None,
                parse_math=False,  # a dollar in a name is no formula
                transform=IdentityTransform(),
            )
        )

    def text_width(self, words: str, size: float, *, bold: bool = False) -> float:
        """Return how wide a line of text would be. [px]."""
        renderer = self._canvas.get_renderer()  # type: ignore[no-untyped-call] # matplotlib's
        width, _, _ = renderer.get_text_width_height_descent(
            drawable(words), _font(size, bold=bold), ismath=False
        )
        return float(width)

    def png(self) -> bytes:
        """Return the picture; the same bytes for the same drawing.

        In 64 colours it has a third of the bytes: it is sent where signal is patchy.
        """
        self._canvas.draw()  # type: ignore[no-untyped-call] # matplotlib has no hints here
        pixels = self._canvas.buffer_rgba()  # type: ignore[no-untyped-call] # nor here
        size = (self.width, self.height)
        drawn = Image.frombuffer("RGBA", size, pixels, "raw", "RGBA", 0, 1).convert("RGB")
        few = drawn.quantize(_COLOURS, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
        held = BytesIO()
        few.save(held, "png")
        return held.getvalue()

    def _add(self, artist: Rectangle | Line2D | Circle | Text) -> None:
        artist.set_zorder(len(self._figure.artists))  # what is drawn later lies on top
        self._figure.add_artist(artist)


def _points(pixels: float) -> float:
    return pixels * _POINTS_PER_INCH / _DPI


@lru_cache(maxsize=64)
def _font(size: float, *, bold: bool) -> FontProperties:
    return FontProperties(family=[_FAMILY], weight="bold" if bold else "normal", size=_points(size))


@lru_cache(maxsize=1)
def _letters() -> frozenset[int]:
    return frozenset(FT2Font(findfont(FontProperties(family=[_FAMILY]))).get_charmap())


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
