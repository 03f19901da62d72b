"""The report on one page: the sentence, the judgement, what to buy, what must hold, the figures that matter most.

Nothing runs on it and nothing is fetched: its figures are drawings that stand in the page.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from leadline.report.figures.failures import failure_panels
from leadline.report.page import numbered, still
from leadline.report.panel import Panel, Table
from leadline.report.registry import as_answers, panels
from leadline.report.result_page import report_context
from leadline.report.tables import requirement_table
from leadline.report.vector import drawing
from leadline.report.wording import count
from leadline.run.answer_files import Answer, Answers
from leadline.run.result import Result

__all__ = ["render_short_report"]

MOST_REQUIREMENTS: Final = 6
MOST_CHANGES: Final = 3
MOST_FIGURES: Final = 3
MOST_FAILURES: Final = 5
WIDTH: Final = 340
"""Of a drawing in px, so that its text is readable at a third of the width of a sheet."""
SHOWN: Final = (0, 3, 4, 5, 6)
"""Columns of the requirement table that fit."""


def render_short_report(given: Answers | Answer | Result) -> str:
    """Return the report of a study on one page, as HTML text.

    Parameters
    ----------
    given
        What was computed: a run, a further answer, or everything at hand about one study.

    Raises
    ------
    OutputError
        jinja2 is not installed.
    ValueError
        There is no answer.
    """
    every = as_answers(given)
    context = report_context(every)
    figures = _key_figures(every)
    kept, left_out = _requirements(every.result)
    return still(
        "short.html.j2",
        [drawing(panel, WIDTH) for panel in figures],
        figures=numbered(figures),
        kicker="a concept's margins under uncertainty, in short",
        changes=_changes(every),
        kept=kept,
        left_out=left_out,
        seed=", ".join(dict.fromkeys(str(one.seed) for one in every.every)),
        digest=every.study.digest,
        **{name: context[name] for name in ("title", "option", "opening", "facts", "confidence", "method", "result")},
    )


def _key_figures(every: Answers) -> tuple[Panel, ...]:
    """Return the margin that holds least often, what fails first, and what is not known or the mass; else the first."""
    known = {panel.name: panel for panel in panels(every)}
    if every.result is None:
        return tuple(known.values())[:MOST_FIGURES]
    known.update({panel.name: panel for panel in _commonest_failures(every.result)})
    weakest = min(every.result.requirements, key=lambda one: one.chance.value, default=None)
    names = ["" if weakest is None else f"margin.{weakest.name}", "first failures", "unknowns", "ledger.mass"]
    return tuple(known[name] for name in names if name in known)[:MOST_FIGURES]


def _commonest_failures(result: Result) -> tuple[Panel, ...]:
    """Return the figure of what fails first, with no more bars than a short page has room for."""
    rows = sorted((row for row in result.first_failures if row.cases), key=lambda row: -row.cases)
    drawn = failure_panels(result.model_copy(update={"first_failures": tuple(rows[:MOST_FAILURES])}))
    if len(rows) <= MOST_FAILURES:
        return drawn
    said = f"Drawn are the {count(MOST_FAILURES)} commonest of {count(len(rows))} ways to fail first."
    return tuple(replace(panel, sentence=f"{panel.sentence} {said}") for panel in drawn)


def _changes(every: Answers) -> Table:
    """Return the changes that buy most with what they buy, or an empty table."""
    found = next((panel.table for panel in panels(every) if panel.name == "buy-down"), Table((), ()))
    return Table(found.headers[:3], tuple(row[:3] for row in found.rows[:MOST_CHANGES]))


def _requirements(result: Result | None) -> tuple[Table, str]:
    """Return the requirements that hold least often, in the study's order, and what is said of the others."""
    if result is None:
        return Table((), ()), ""
    whole = requirement_table(result)
    chances = [one.chance.value for one in result.requirements]
    least = sorted(sorted(range(len(chances)), key=lambda place: chances[place])[:MOST_REQUIREMENTS])
    rows = [whole.rows[place] for place in (*least, -1)]
    table = Table(
        tuple(whole.headers[place] for place in SHOWN), tuple(tuple(row[place] for place in SHOWN) for row in rows)
    )
    others = len(chances) - len(least)
    left_out = f"{count(others)} more hold at least as often; the full report has them." if others else ""
    return table, left_out
