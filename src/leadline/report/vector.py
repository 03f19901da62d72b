"""A figure as a drawing that stands alone (SVG), made without a browser and without plotly.

It shows what the page's figure shows, in the light palette, from the same plain description.
Colours stand in it as values, fonts by their generic family; nothing runs and nothing is fetched.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from leadline.report.palette import LIGHT, painted
from leadline.report.panel import FONT_SIZE, Panel, Spec
from leadline.report.registry import Drawn, panels
from leadline.report.vector_axes import Frame, frame_of, frame_parts
from leadline.report.vector_marks import element, escaped
from leadline.report.vector_traces import hatchings, note_part, shape_part, trace_parts

__all__ = ["WIDTH", "drawing", "drawing_files"]

WIDTH: Final = 600
"""Of a drawing, px, where no other is asked for."""
DECLARATION: Final = '<?xml version="1.0" encoding="UTF-8"?>\n'


def drawing(panel: Panel, width: float = WIDTH) -> str:
    """Return a figure as SVG text.

    Parameters
    ----------
    panel
        The figure; its title and sentence are the drawing's text alternative.
    width
        Of the drawing in px; its height is the figure's own.

    Raises
    ------
    ValueError
        The figure holds a kind of trace, mark, fill or shape that this drawing does not know.
    """
    spec: Spec = painted(panel.spec, LIGHT)
    name, height = panel.div_id, panel.height_px
    frame = frame_of(spec, width)
    inside = [
        element("title", escaped(panel.title), id=f"{name}-title"),
        element("desc", escaped(panel.sentence), id=f"{name}-desc"),
        element("defs", "".join([*_clips(frame, name), *_hatch(spec, name)])),
        element("rect", width=width, height=height, fill=LIGHT["paper"]),
        *_parts(spec, frame, name),
    ]
    return element(
        "svg",
        "\n".join(part for part in inside if part),
        xmlns="http://www.w3.org/2000/svg",
        width=width,
        height=height,
        viewBox=f"0 0 {width:g} {height}",
        role="img",
        aria_labelledby=f"{name}-title {name}-desc",
        font_family="sans-serif",
        font_size=FONT_SIZE,
    )


def drawing_files(given: Drawn) -> dict[str, str]:
    """Return every figure of a document as the text of an SVG file, by name; errors as `drawing`."""
    return {f"{panel.div_id}.svg": f"{DECLARATION}{drawing(panel)}\n" for panel in panels(given)}


def _parts(spec: Spec, frame: Frame, name: str) -> Iterator[str]:
    layout, ink = spec["layout"], LIGHT["ink"]
    yield from frame_parts(frame, ink)
    for trace in spec["data"]:
        yield from trace_parts(trace, frame, name, LIGHT)
    for shape in layout.get("shapes", ()):
        yield shape_part(shape, frame)
    for note in layout.get("annotations", ()):
        yield note_part(note, frame, ink)


def _clips(frame: Frame, name: str) -> Iterator[str]:
    """Yield the ground of each axis down, beyond which nothing of a line is drawn."""
    for key, ruler in frame.y.items():
        wide, tall = frame.right - frame.left, ruler.start - ruler.end
        ground = element("rect", x=frame.left, y=ruler.end, width=wide, height=tall)
        yield element("clipPath", ground, id=f"{name}-{key}")


def _hatch(spec: Spec, name: str) -> Iterator[str]:
    """Yield the hatching of what falls short, where there is any."""
    for pattern in hatchings(spec["data"])[:1]:
        if pattern["shape"] != "/":
            raise ValueError(f"a pattern {pattern['shape']!r} cannot be drawn")
        size = pattern["size"]
        ground = element("rect", width=size, height=size, fill=pattern["bgcolor"])
        # The corners carry the stroke over the seam to the next tile.
        slant = f"M0 {size}L{size} 0M-1 1L1 -1M{size - 1} {size + 1}L{size + 1} {size - 1}"
        thick = size * pattern["solidity"] / 1.414
        lines = element("path", d=slant, stroke=pattern["fgcolor"], stroke_width=thick)
        yield element(
            "pattern", ground + lines, id=f"{name}-hatch", width=size, height=size, patternUnits="userSpaceOnUse"
        )
