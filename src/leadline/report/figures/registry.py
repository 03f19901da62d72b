"""The figures by name, for reports, notebooks and pages alike."""

from __future__ import annotations

from typing import Any

from leadline.report.figures.compare import compare_panels
from leadline.report.figures.failures import failure_panels
from leadline.report.figures.ledger import ledger_panels
from leadline.report.figures.margins import margin_panels
from leadline.report.panel import Panel
from leadline.run.result import CompareResult, Result

__all__ = ["figure", "figure_names", "panels"]


def panels(result: Result | CompareResult) -> tuple[Panel, ...]:
    """Return every figure a result has, in the report's order."""
    if isinstance(result, CompareResult):
        return compare_panels(result)
    return (*margin_panels(result), *ledger_panels(result), *failure_panels(result))


def figure_names(result: Result | CompareResult) -> tuple[str, ...]:
    """Return the names that `figure` takes for this result, such as ``margin.reserve``."""
    return tuple(panel.name for panel in panels(result))


def figure(result: Result | CompareResult, name: str) -> Any:
    """Return one figure as a ``plotly.graph_objects.Figure``.

    Parameters
    ----------
    result
        What to draw.
    name
        One of `figure_names`: ``margin.<requirement>``, ``ledger.mass``,
        ``ledger.propellant.<tank>``, ``first failures``, ``compare.chances``,
        ``compare.differences``.

    Raises
    ------
    ValueError
        If the result has no figure of that name; the names it has are listed.
    """
    known = {panel.name: panel for panel in panels(result)}
    if name not in known:
        listed = ", ".join(known) or "none"
        raise ValueError(f"no figure is named {name!r}; this result has: {listed}")
    return known[name].to_plotly()
