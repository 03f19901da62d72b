"""A stepped outline of bars, hatched where they fall short of a bound."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from leadline.report.panel import Spec

__all__ = ["outline", "rounded"]

Array = npt.NDArray[np.float64]


def outline(edges: Array, shares: Array, bound: float = 0.0) -> list[Spec]:
    """Return the stepped outline of bars in one or two parts, hatched below the bound.

    Parameters
    ----------
    edges : (k + 1,)
    shares : (k,)
        Heights between the edges.
    bound
        The edge below which a bar falls short.
    """
    below = edges[1:] <= bound
    cut = int(below.sum())
    parts = []
    if cut:
        parts.append(_steps(edges[: cut + 1], shares[:cut], short=True))
    if cut < len(shares):
        parts.append(_steps(edges[cut:], shares[cut:], short=False))
    return parts


def _steps(edges: Array, shares: Array, *, short: bool) -> Spec:
    colour = "red" if short else "blue"
    pattern = {"shape": "/", "fgcolor": "@red", "bgcolor": "@red-wash", "size": 6, "solidity": 0.25}
    fill: Spec = {"fillpattern": pattern} if short else {"fillcolor": "@blue-wash"}
    return {
        "type": "scatter",
        "mode": "lines",
        "name": "falls short" if short else "holds",
        "x": [rounded(x) for x in (edges[0], *edges)],
        "y": [rounded(y) for y in (0.0, *shares, 0.0)],
        "line": {"shape": "hv", "width": 1.25, "color": f"@{colour}"},
        "fill": "tozeroy",
        "hoverinfo": "skip",
        **fill,
    }


def rounded(value: float) -> float:
    """Return a coordinate to the seven digits a drawing can use."""
    return float(f"{value:.7g}")
