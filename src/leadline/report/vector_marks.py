"""Elements of a drawing as text: every name and text is escaped here, and nothing else is."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from html import unescape
from typing import Final
from xml.sax.saxutils import escape, quoteattr

from leadline.report.panel import FONT_SIZE

__all__ = ["LINE_HEIGHT", "Point", "element", "escaped", "path", "stroke", "text", "text_width", "written"]

Point = tuple[float, float] | None
"""Where a line goes next; None parts it."""

LINE_HEIGHT: Final = 16
"""From one line of text to the next, in px."""
SIGN_WIDTH: Final = 0.56
"""Width of a sign as a share of its size, on the safe side for the sans-serif faces about."""
_NOT_IN_XML: Final = re.compile("[^\\x20-\\ud7ff\\ue000-\\ufffd\\U00010000-\\U0010ffff]")
_BREAK: Final = "<br>"


def element(tag: str, inside: str = "", **attributes: str | float | None) -> str:
    """Return an element.

    Parameters
    ----------
    tag
        Its name.
    inside
        What it holds, elements or escaped text.
    attributes
        An underscore stands for a hyphen; None leaves one out.
    """
    given = "".join(
        f" {name.replace('_', '-')}={quoteattr(value if isinstance(value, str) else written(value))}"
        for name, value in attributes.items()
        if value is not None
    )
    return f"<{tag}{given}>{inside}</{tag}>" if inside else f"<{tag}{given}/>"


def written(value: float) -> str:
    """Return a length or place to a hundredth of a px."""
    return f"{round(value, 2) + 0.0:.6g}"


def escaped(given: str) -> str:
    """Return text, whose names are plain already, as XML can hold it."""
    return escape(_NOT_IN_XML.sub("", given))


def lines_of(given: str) -> list[str]:
    """Return the lines of a figure's text, which is escaped and parted as the drawing library reads it."""
    return [unescape(line) for line in given.split(_BREAK)]


def text_width(given: str, size: float = FONT_SIZE) -> float:
    """Return about how wide a figure's text is, in px."""
    return SIGN_WIDTH * size * max(len(line) for line in lines_of(given))


def text(
    given: str,
    at: tuple[float, float],
    *,
    across: str = "middle",
    down: str = "middle",
    colour: str,
    size: float = FONT_SIZE,
    turned: bool = False,
) -> str:
    """Return a figure's text.

    Parameters
    ----------
    given
        As the figure holds it.
    at
        Where it stands, px.
    across
        Which part of it stands there: ``start``, ``middle`` or ``end``.
    down
        Which part of it stands there: ``top``, ``middle`` or ``bottom``.
    colour, size
        What it looks like.
    turned
        Whether it is read upwards.
    """
    lines = lines_of(given)
    above = {"top": 0.0, "middle": 0.5, "bottom": 1.0}[down] * LINE_HEIGHT * len(lines)
    first = at[1] - above + LINE_HEIGHT / 2 + 0.35 * size
    spans = [
        element("tspan", escaped(line), x=at[0], y=first + LINE_HEIGHT * row)
        for row, line in enumerate(lines)
        if escaped(line)
    ]
    turn = f"rotate(-90 {written(at[0])} {written(at[1])})" if turned else None
    return element(
        "text", "".join(spans), text_anchor=across, font_size=size, fill=colour, stroke="none", transform=turn
    )


def path(points: Iterable[Point]) -> str:
    """Return the data of a path through points, parted where one is None."""
    parts, joined = [], False
    for point in points:
        if point is not None:
            parts.append(f"{'L' if joined else 'M'}{written(point[0])} {written(point[1])}")
        joined = point is not None
    return "".join(parts)


def stroke(points: Sequence[Point], line: dict[str, object]) -> str:
    """Return a line in the manner a figure gives it, or nothing where it has no width."""
    width, colour, dash = line.get("width", 1), line.get("color"), line.get("dash")
    if not width or len(points) < 2:
        return ""
    return element(
        "path",
        d=path(points),
        fill="none",
        stroke=str(colour),
        stroke_width=str(width),
        stroke_dasharray=None if dash is None else str(dash).replace("px", ""),
    )
