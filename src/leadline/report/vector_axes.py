"""Axes of a drawing in px: where a value stands, which values are written, and the frame around."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from leadline.report.panel import Spec
from leadline.report.vector_marks import LINE_HEIGHT, element, text, text_width
from leadline.report.wording import NARROW_SPACE

__all__ = ["Frame", "Ruler", "Tick", "frame_of", "frame_parts", "ticks"]

TITLE_ROOM: Final = 22
"""What an axis title takes beside the tick labels, px."""
EDGE: Final = 14
"""Least room beside the frame, so that the first and last tick labels are whole, px."""
FEW_TICKS: Final = 6
STEPS: Final = (1.0, 2.0, 5.0, 10.0)
MOST_DECIMALS: Final = 12
_RAISED: Final = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


class Tick(NamedTuple):
    """A value on an axis, as the axis counts, and what is written there."""

    value: float
    text: str


@dataclass(frozen=True, slots=True)
class Ruler:
    """An axis: `low` and `high` as it counts (powers of ten on a logarithmic one) stand at `start` and `end`, px."""

    spec: Spec
    low: float
    high: float
    start: float
    end: float

    @property
    def log(self) -> bool:
        """Whether the axis is logarithmic."""
        return bool(self.spec.get("type") == "log")

    def __call__(self, value: float) -> float:
        """Return where a value stands."""
        return self.at(math.log10(value)) if self.log else self.at(value)

    def at(self, counted: float) -> float:
        """Return where a value stands that is given as the axis counts."""
        return self.start + (counted - self.low) / (self.high - self.low) * (self.end - self.start)


@dataclass(frozen=True, slots=True)
class Frame:
    """The axes of a figure: one across, and one or two down that share the height."""

    x: Ruler
    y: dict[str, Ruler]
    left: float
    right: float
    top: float
    bottom: float


def frame_of(spec: Spec, width: float) -> Frame:
    """Lay a figure's axes out in its width and its own height, px."""
    layout = spec["layout"]
    height, margin = layout["height"], layout["margin"]
    across, down = layout["xaxis"], {key: layout[f"{key[:1]}axis{key[1:]}"] for key in _names(layout)}
    outside = LINE_HEIGHT + (TITLE_ROOM if across["title"]["text"] else 0)
    above = across.get("side") == "top"
    top, bottom = margin["t"] + (outside if above else 0), height - margin["b"] - (0 if above else outside)
    left = max(margin["l"] + max(_room(axis) for axis in down.values()), EDGE)
    right = width - max(margin["r"], EDGE)
    rulers = {key: _down(axis, top, bottom) for key, axis in down.items()}
    low, high = _reach(across, spec["data"])
    return Frame(Ruler(across, low, high, left, right), rulers, left, right, top, bottom)


def _names(layout: Spec) -> list[str]:
    return [key.replace("axis", "") for key in ("yaxis", "yaxis2") if key in layout]


def _room(axis: Spec) -> float:
    """Return what an axis takes left of the frame."""
    title = TITLE_ROOM if axis["title"]["text"] else 0.0
    if axis.get("showticklabels") is False:
        return title
    texts = axis["ticktext"] if "ticktext" in axis else [tick.text for tick in ticks(_down(axis, 0, 1))]
    return title + max((text_width(one) for one in texts), default=0.0) + float(axis.get("ticklabelstandoff", 4))


def _down(axis: Spec, top: float, bottom: float) -> Ruler:
    low, high = _apart(*axis["range"])
    first, last = axis.get("domain", (0, 1))
    return Ruler(axis, low, high, bottom - first * (bottom - top), bottom - last * (bottom - top))


def _apart(low: float, high: float) -> tuple[float, float]:
    """Return ends that differ."""
    return (low, high) if low != high else (low - 1.0, high + 1.0)


def _reach(axis: Spec, traces: Sequence[Spec]) -> tuple[float, float]:
    """Return the ends of the axis across: those given, or room for every value."""
    if "range" in axis:
        return _apart(*axis["range"])
    values = [value for trace in traces for value in trace["x"] if value is not None] or [0.0]
    low, high = min(values), max(values)
    pad = 0.05 * (high - low)
    if axis.get("rangemode") == "tozero":
        low, high = min(low, 0.0), max(high, 0.0)
    return _apart(low - pad if low < 0 else low, high + pad)


def ticks(ruler: Ruler) -> list[Tick]:
    """Return the values written on an axis: those given, decades, or round steps."""
    if "tickvals" in ruler.spec:
        return [Tick(*pair) for pair in zip(ruler.spec["tickvals"], ruler.spec["ticktext"], strict=True)]
    low, high = sorted((ruler.low, ruler.high))
    if ruler.log:
        step = int(ruler.spec.get("dtick", 1))
        return [Tick(power, _decade(power)) for power in range(math.ceil(low), math.floor(high) + 1, step)]
    return list(_round_ticks(low, high, ruler.spec.get("nticks", FEW_TICKS)))


def _round_ticks(low: float, high: float, most: int) -> Iterator[Tick]:
    raw = (high - low) / max(most - 1, 1)
    power = 10.0 ** math.floor(math.log10(raw))
    step = power * next((step for step in STEPS if len(_steps(low, high, step * power)) <= most), STEPS[-1])
    decimals = min(max(0, -math.floor(math.log10(step) + 1e-9)), MOST_DECIMALS)
    for place in _steps(low, high, step):
        yield Tick(place * step, _number(place * step, decimals))


def _steps(low: float, high: float, step: float) -> range:
    """Return the multiples of a step between two ends, these included."""
    return range(math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9) + 1)


def _number(value: float, decimals: int) -> str:
    return f"{value:,.{decimals}f}".replace(",", NARROW_SPACE).replace("-", "−")


def _decade(power: int) -> str:
    return {0: "1", 1: "10"}.get(power, f"10{str(power).translate(_RAISED)}")


def frame_parts(frame: Frame, ink: str) -> Iterator[str]:
    """Yield the frame, its ticks and what is written along it."""
    yield from _across(frame, ink)
    for ruler in frame.y.values():
        yield element(
            "rect",
            x=frame.left,
            y=ruler.end,
            width=frame.right - frame.left,
            height=ruler.start - ruler.end,
            fill="none",
            stroke=ruler.spec["linecolor"],
            stroke_width=ruler.spec["linewidth"],
        )
        yield from _beside(frame, ruler, ink)


def _across(frame: Frame, ink: str) -> Iterator[str]:
    axis, above = frame.x.spec, frame.x.spec.get("side") == "top"
    shown = ticks(frame.x)
    if axis["ticks"]:
        yield _strokes(((frame.x.at(tick.value), frame.bottom, 0.0, -axis["ticklen"]) for tick in shown), axis)
        yield _strokes(((frame.x.at(tick.value), frame.top, 0.0, axis["ticklen"]) for tick in shown), axis)
    edge, away, down = (frame.top, -1, "bottom") if above else (frame.bottom, 1, "top")
    for tick in shown:
        yield text(tick.text, (frame.x.at(tick.value), edge + 3 * away), down=down, colour=ink)
    if axis["title"]["text"]:
        middle = (frame.left + frame.right) / 2
        yield text(axis["title"]["text"], (middle, edge + (LINE_HEIGHT + 5) * away), down=down, colour=ink)


def _beside(frame: Frame, ruler: Ruler, ink: str) -> Iterator[str]:
    axis = ruler.spec
    shown = [] if axis.get("showticklabels") is False else ticks(ruler)
    if axis["showgrid"]:
        whole = frame.right - frame.left
        dash = str(axis.get("griddash", "none")).replace("px", "")
        lines = ((frame.left, ruler.at(tick.value), whole, 0.0) for tick in shown)
        yield _strokes(lines, axis, colour=axis["gridcolor"], dash=dash)
    if axis["ticks"]:
        yield _strokes(((frame.left, ruler.at(tick.value), axis["ticklen"], 0.0) for tick in shown), axis)
        yield _strokes(((frame.right, ruler.at(tick.value), -axis["ticklen"], 0.0) for tick in shown), axis)
    beside = frame.left - axis.get("ticklabelstandoff", 4)
    for tick in shown:
        yield text(tick.text, (beside, ruler.at(tick.value)), across="end", colour=ink)
    if axis["title"]["text"]:
        place = (frame.left - _room(axis) + LINE_HEIGHT / 2, (ruler.start + ruler.end) / 2)
        yield text(axis["title"]["text"], place, colour=ink, turned=True)


def _strokes(
    given: Iterable[tuple[float, float, float, float]], axis: Spec, *, colour: str | None = None, dash: str = "none"
) -> str:
    """Return short lines, each from a place by a way."""
    data = "".join(f"M{x:.6g} {y:.6g}l{across:.6g} {down:.6g}" for x, y, across, down in given)
    if not data:
        return ""
    line = axis["tickcolor"] if colour is None else colour
    return element("path", d=data, fill="none", stroke=line, stroke_width=axis["linewidth"], stroke_dasharray=dash)
