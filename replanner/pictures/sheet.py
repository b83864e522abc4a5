"""A sheet to draw on: what is drawn is kept as data, and becomes pixels at the end."""

from replanner.pictures.fills import Fill
from replanner.pictures.letters import drawable
from replanner.pictures.paint import painted
from replanner.pictures.shapes import Box, Dash, Disc, Line, Shape, Side, Upright, Words


class Sheet:
    """A picture in the making.

    Parameters
    ----------
    width, height : int
        [px]
    """

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height = width, height
        self.shapes: list[Shape] = []

    def box(
        self, x: float, y: float, width: float, height: float, fill: Fill, *, dotted: bool = False
    ) -> None:
        """Draw a filled box, its outline dotted or whole. [px]."""
        self.shapes.append(Box(x=x, y=y, width=width, height=height, fill=fill, dotted=dotted))

    def line(self, x: float, to_x: float, y: float, *, width: int, dash: Dash = "whole") -> None:
        """Draw a level line. [px]."""
        self.shapes.append(Line(x=x, to_x=to_x, y=y, width=width, dash=dash))

    def disc(self, x: float, y: float, radius: float) -> None:
        """Draw a black disc. [px]."""
        self.shapes.append(Disc(x=x, y=y, radius=radius))

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
        self.shapes.append(
            Words(
                x=x,
                y=y,
                text=drawable(words),
                size=size,
                bold=bold,
                white=white,
                side=side,
                upright=upright,
                on_paper=on_paper,
            )
        )

    def png(self) -> bytes:
        """Return the picture; the same bytes for the same drawing."""
        return painted(self.shapes, self.width, self.height)
