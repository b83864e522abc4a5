"""What a picture is made of, as data: boxes, lines, discs, words, in the order they are drawn.

Lengths and places are in pixels, counted from the top left corner of the sheet.
"""

from dataclasses import dataclass
from typing import Literal

from replanner.pictures.fills import Fill
from replanner.pictures.letters import rise_and_fall, text_width

Side = Literal["left", "center", "right"]
Upright = Literal["top", "center", "bottom"]
Dash = Literal["whole", "dashed", "dotted"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A filled box with an outline."""

    x: float
    y: float
    width: float
    height: float
    fill: Fill
    dotted: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A level line from `x` to `to_x`."""

    x: float
    to_x: float
    y: float
    width: int
    dash: Dash


@dataclass(frozen=True, slots=True, kw_only=True)
class Disc:
    """A black disc with a white rim, around its middle."""

    x: float
    y: float
    radius: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """A line of text beside, around or below a place; `size` is the height of its em."""

    x: float
    y: float
    text: str
    size: float
    bold: bool
    white: bool
    side: Side
    upright: Upright
    on_paper: bool

    @property
    def foot(self) -> tuple[float, float]:
        """Return where the line the letters stand on begins."""
        rise, fall = rise_and_fall(self.size, bold=self.bold)
        width = text_width(self.text, self.size, bold=self.bold)
        left = {"left": self.x, "center": self.x - width / 2, "right": self.x - width}
        line = {"top": self.y + rise, "center": self.y + (rise - fall) / 2, "bottom": self.y - fall}
        return left[self.side], line[self.upright]

    @property
    def area(self) -> tuple[float, float, float, float]:
        """Return left, top, right and bottom of the room the letters take."""
        rise, fall = rise_and_fall(self.size, bold=self.bold)
        left, line = self.foot
        width = text_width(self.text, self.size, bold=self.bold)
        return left, line - rise, left + width, line + fall


Shape = Box | Line | Disc | Words
