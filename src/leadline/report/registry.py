"""The figures by name, for reports, notebooks and pages alike."""

from __future__ import annotations

from typing import Any

from leadline.report.figures.compare import compare_panels
from leadline.report.panel import Panel
from leadline.report.sections import sections_of
from leadline.run.answer_files import Answer, Answers
from leadline.run.result import CompareResult, Result

__all__ = ["Drawn", "as_answers", "figure", "figure_names", "panels"]

Drawn = Answers | Answer | Result | CompareResult
"""Whatever has figures."""


def as_answers(given: Answers | Answer | Result) -> Answers:
    """Return one document as all there is about its study."""
    return given if isinstance(given, Answers) else Answers.of(given)


def panels(given: Drawn) -> tuple[Panel, ...]:
    """Return every figure a document has, in the report's order."""
    if isinstance(given, CompareResult):
        return compare_panels(given)
    return tuple(panel for section in sections_of(as_answers(given)) for panel in section.panels)


def figure_names(given: Drawn) -> tuple[str, ...]:
    """Return the names that `figure` takes for this document, such as ``margin.reserve``."""
    return tuple(panel.name for panel in panels(given))


def figure(given: Drawn, name: str) -> Any:
    """Return one figure as a ``plotly.graph_objects.Figure``.

    Parameters
    ----------
    given
        What to draw.
    name
        One of `figure_names`: ``margin.<requirement>``, ``ledger.mass``,
        ``ledger.propellant.<tank>``, ``first failures``, ``shifts``, ``unknowns``, ``buy-down``,
        ``drivers``, ``shapley``, ``sizing.<place>``, ``sweep.<place>``, ``rare``,
        ``compare.chances``, ``compare.differences``.

    Raises
    ------
    ValueError
        If the document has no figure of that name; the names it has are listed.
    """
    known = {panel.name: panel for panel in panels(given)}
    if name not in known:
        listed = ", ".join(known) or "none"
        raise ValueError(f"no figure is named {name!r}; this result has: {listed}")
    return known[name].to_plotly()
