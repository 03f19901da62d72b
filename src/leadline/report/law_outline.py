"""A law drawn small: where its values lie thick and where thin."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

__all__ = ["law_outline"]

WIDTH: Final = 84
HEIGHT: Final = 20


def law_outline(quantiles: Sequence[float]) -> str:
    """Return a law's density as a small drawing in SVG, from quantiles at even steps of probability.

    The text is made of numbers alone. A law that jumps from value to value is drawn as an upright
    line at each.

    Parameters
    ----------
    quantiles
        Rising; fewer than two, or all the same, give nothing.
    """
    if len(quantiles) < 2 or not quantiles[0] < quantiles[-1]:
        return ""
    low, span = quantiles[0], quantiles[-1] - quantiles[0]
    x = [(value - low) / span for value in quantiles]
    steps = [right - left for left, right in pairwise(x)]
    points = _spikes(x) if min(steps) < 1e-9 else _density(x, steps)
    drawn = " ".join(f"{WIDTH * along:.1f},{HEIGHT * (1 - 0.94 * up):.1f}" for along, up in points)
    box = f'width="{WIDTH}" height="{HEIGHT}" viewBox="0 0 {WIDTH} {HEIGHT}"'
    return f'<svg class="law" {box} aria-hidden="true"><polyline points="{drawn}"/></svg>'


def _density(x: Sequence[float], steps: Sequence[float]) -> list[tuple[float, float]]:
    """Return points of the density, which between two quantiles is as high as they stand close."""
    most = min(steps)
    inner = [(0.5 * (left + right), most / step) for left, right, step in zip(x, x[1:], steps, strict=False)]
    return [(0.0, 0.0), *inner, (1.0, 0.0)]


def _spikes(x: Sequence[float]) -> list[tuple[float, float]]:
    share = {value: x.count(value) / len(x) for value in x}
    most = max(share.values())
    return [point for value in sorted(share) for point in ((value, 0.0), (value, share[value] / most), (value, 0.0))]
