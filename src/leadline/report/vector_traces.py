"""What a figure draws inside its frame: lines, fills, marks, texts, bars and lines of equal chance."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator
from typing import Any, Final

import numpy as np

from leadline.report.palette import Palette
from leadline.report.panel import FONT_SIZE, Spec
from leadline.report.vector_axes import Frame, Ruler
from leadline.report.vector_marks import Point, element, path, stroke, text, text_width
from leadline.report.wording import level
from leadline.risk.sweep import contour_lines

__all__ = ["hatchings", "note_part", "shape_part", "trace_parts"]

SCATTER: Final = {
    "cliponaxis",
    "fill",
    "fillcolor",
    "fillpattern",
    "hoverinfo",
    "line",
    "marker",
    "mode",
    "name",
    "text",
    "textposition",
    "type",
    "x",
    "y",
    "yaxis",
}
"""What is understood of a scatter trace; anything else is refused, lest a figure lose a part in silence."""
ACROSS: Final = {"left": "start", "center": "middle", "right": "end"}
SYMBOLS: Final = {"circle", "circle-open", "diamond", "line-ns-open"}


def trace_parts(trace: Spec, frame: Frame, name: str, palette: Palette) -> Iterator[str]:
    """Yield the elements of a trace.

    Parameters
    ----------
    trace
        Painted, as the figure holds it.
    frame
        Where it stands.
    name
        What names of patterns and clips on the drawing begin with.
    palette
        Colours of text and ground.

    Raises
    ------
    ValueError
        It holds something this drawing does not know.
    """
    match trace["type"]:
        case "scatter":
            yield from _scatter(trace, frame, name, palette)
        case "bar":
            yield from _bars(trace, frame, name, palette)
        case "contour":
            yield from _level_lines(trace, frame, name, palette)
        case other:
            raise ValueError(f"a trace of type {other!r} cannot be drawn")


def _scatter(trace: Spec, frame: Frame, name: str, palette: Palette) -> Iterator[str]:
    if unknown := trace.keys() - SCATTER:
        raise ValueError(f"a scatter trace with {', '.join(sorted(unknown))} cannot be drawn")
    axis = trace.get("yaxis", "y")
    y = frame.y[axis]
    clip = f"url(#{name}-{axis})"
    modes = trace["mode"].split("+")
    places = _places(trace, frame.x, y)
    if "lines" in modes:
        line = list(_stepped(places)) if trace["line"].get("shape") == "hv" else places
        yield element("g", "".join(_filled(trace, line, y, name)) + stroke(line, trace["line"]), clip_path=clip)
    if "markers" in modes:
        inside = "".join(_marks(trace["marker"], places))
        yield element("g", inside, clip_path=None if trace.get("cliponaxis") is False else clip)
    if "text" in modes:
        yield from _texts(trace, places, palette["ink"])


def _places(trace: Spec, x: Ruler, y: Ruler) -> list[Point]:
    pairs = zip(trace["x"], trace["y"], strict=True)
    return [None if a is None or b is None else (x(a), y(b)) for a, b in pairs]


def _stepped(points: Iterable[Point]) -> Iterator[Point]:
    """Yield points with a corner between neighbours: across first, then up or down."""
    before: Point = None
    for point in points:
        if point is not None and before is not None:
            yield point[0], before[1]
        yield point
        before = point


def _filled(trace: Spec, line: list[Point], y: Ruler, name: str) -> Iterator[str]:
    """Yield the area of a trace that has one: round its points, or down to zero."""
    fill = trace.get("fill")
    if fill is None:
        return
    whole = [point for point in line if point is not None]
    if fill == "tozeroy":
        whole = [(whole[0][0], y(0.0)), *whole, (whole[-1][0], y(0.0))]
    elif fill != "toself":
        raise ValueError(f"a fill {fill!r} cannot be drawn")
    paint = f"url(#{name}-hatch)" if "fillpattern" in trace else trace["fillcolor"]
    yield element("path", d=f"{path(whole)}Z", fill=paint, stroke="none")


def _each(given: Any, number: int) -> Iterable[Any]:
    return given if isinstance(given, list) else itertools.repeat(given, number)


def _marks(marker: Spec, places: list[Point]) -> Iterator[str]:
    number = len(places)
    line = marker["line"]
    symbols, sizes = _each(marker.get("symbol", "circle"), number), _each(marker["size"], number)
    for place, symbol, size in zip(places, symbols, sizes, strict=False):
        if symbol not in SYMBOLS:
            raise ValueError(f"a mark {symbol!r} cannot be drawn")
        if place is not None:
            fill = "none" if symbol.endswith("-open") else marker["color"]
            yield _mark(symbol, place, size / 2, {"fill": fill, "stroke": line["color"], "stroke_width": line["width"]})


def _mark(symbol: str, place: tuple[float, float], half: float, look: dict[str, Any]) -> str:
    x, y = place
    if symbol.startswith("circle"):
        return element("circle", cx=x, cy=y, r=half, **look)
    if symbol == "line-ns-open":
        return element("path", d=path([(x, y - half), (x, y + half)]), **look)
    wide = 1.3 * half
    return element("path", d=f"{path([(x, y - wide), (x + wide, y), (x, y + wide), (x - wide, y)])}Z", **look)


def _texts(trace: Spec, places: list[Point], ink: str) -> Iterator[str]:
    for place, said, position in zip(places, trace["text"], trace["textposition"], strict=True):
        if place is not None:
            right = position.endswith("right")
            at = (place[0] + (7 if right else -7), place[1])
            yield text(said, at, across="start" if right else "end", colour=ink)


def _bars(trace: Spec, frame: Frame, name: str, palette: Palette) -> Iterator[str]:
    """Yield bars across, hatched, with the text beyond their ends."""
    if trace["orientation"] != "h":
        raise ValueError("bars that stand upright cannot be drawn")
    y, half, line = frame.y["y"], trace["width"] / 2, trace["marker"]["line"]
    for value, place, said in zip(trace["x"], trace["y"], trace["text"], strict=True):
        start, end = frame.x(0.0), frame.x(value)
        upper, lower = sorted((y(place - half), y(place + half)))
        yield element(
            "rect",
            x=start,
            y=upper,
            width=end - start,
            height=lower - upper,
            fill=f"url(#{name}-hatch)" if "pattern" in trace["marker"] else trace["marker"]["color"],
            stroke=line["color"],
            stroke_width=line["width"],
        )
        yield text(said, (end + 6, (upper + lower) / 2), across="start", colour=palette["ink"])


def _level_lines(trace: Spec, frame: Frame, name: str, palette: Palette) -> Iterator[str]:
    """Yield the lines on which the heights have one value, with it written at the middle of the longest."""
    at = trace["contours"]["start"]
    heights = np.asarray(trace["z"], dtype=np.float64).T - at
    found = contour_lines(np.asarray(trace["x"], dtype=np.float64), np.asarray(trace["y"], dtype=np.float64), heights)
    y = frame.y["y"]
    lines: list[list[Point]] = [[(frame.x(float(a)), y(float(b))) for a, b in line] for line in found]
    yield element("g", "".join(stroke(line, trace["line"]) for line in lines), clip_path=f"url(#{name}-y)")
    longest = max(lines, key=len, default=[])
    middle = longest[len(longest) // 2] if longest else None
    if middle is not None:
        font = trace["contours"]["labelfont"]
        yield _on_paper(level(at), middle, palette["paper"], font["color"], font["size"])


def _on_paper(said: str, at: tuple[float, float], paper: str, colour: str, size: float) -> str:
    """Return text with the ground behind it, so that lines do not run through it."""
    wide = text_width(said, size) + 4
    ground = element("rect", x=at[0] - wide / 2, y=at[1] - 8, width=wide, height=16, fill=paper, stroke="none")
    return ground + text(said, at, colour=colour, size=size)


def hatchings(traces: Iterable[Spec]) -> list[Spec]:
    """Return the patterns that traces are filled with."""
    found = (trace.get("fillpattern", trace.get("marker", {}).get("pattern")) for trace in traces)
    return [pattern for pattern in found if pattern is not None]


def _reader(
    shape: Spec, ref: str, ruler: Callable[[float], float], ends: tuple[float, float]
) -> Callable[[float], float]:
    """Return what places a coordinate, by the axis or as a share of the frame."""
    if shape.get(ref) == "paper":
        return lambda share: ends[0] + share * (ends[1] - ends[0])
    return ruler


def shape_part(shape: Spec, frame: Frame) -> str:
    """Return a line across the figure.

    Raises
    ------
    ValueError
        The shape is no line.
    """
    if shape["type"] != "line":
        raise ValueError(f"a shape of type {shape['type']!r} cannot be drawn")
    x, y = _readers(shape, frame)
    ends: list[Point] = [(x(shape["x0"]), y(shape["y0"])), (x(shape["x1"]), y(shape["y1"]))]
    return stroke(ends, shape["line"])


def _readers(given: Spec, frame: Frame) -> tuple[Callable[[float], float], Callable[[float], float]]:
    return (
        _reader(given, "xref", frame.x, (frame.left, frame.right)),
        _reader(given, "yref", frame.y["y"], (frame.bottom, frame.top)),
    )


def note_part(note: Spec, frame: Frame, ink: str) -> str:
    """Return a text that stands on the figure."""
    x, y = _readers(note, frame)
    at = (x(note["x"]) + note.get("xshift", 0), y(note["y"]))
    if "bgcolor" in note:
        return _on_paper(note["text"], at, note["bgcolor"], ink, FONT_SIZE)
    across = ACROSS[note.get("xanchor", "center")]
    return text(note["text"], at, across=across, down=note.get("yanchor", "middle"), colour=ink)
