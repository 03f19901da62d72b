"""The report of one study: its run, and every further answer at hand."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import Any

from leadline.report.figures.buy_down import best_spread
from leadline.report.law_outline import law_outline
from leadline.report.laws import law_text
from leadline.report.mass_budgets import mass_budget_view
from leadline.report.page import Numbered, long_names, numbered, provenance_facts, rendered, save
from leadline.report.panel import Cell, Table
from leadline.report.registry import as_answers
from leadline.report.sections import Section, sections_of
from leadline.report.wording import amount, chance, count, level
from leadline.run.answer_files import Answer, Answers
from leadline.run.result import Chance, InputSummary, RequirementResult, Result

__all__ = ["render_report", "report_context", "write_report"]


def write_report(answers: Answers | Result | Answer, path: Path) -> None:
    """Write the report of a study as one HTML file that needs nothing else.

    Parameters
    ----------
    answers
        What was computed: a run, a further answer, or everything at hand about one study.
    path
        File to write; an existing one is replaced in one step.

    Raises
    ------
    OutputError
        If the file cannot be written, or plotly is not installed.
    ValueError
        If there is no answer.
    """
    save(render_report(answers), path)


def render_report(answers: Answers | Result | Answer) -> str:
    """Return the report of a study as HTML text; arguments and errors as `write_report`."""
    context = report_context(as_answers(answers))
    panels = [one.panel for placed in (*context["before"], *context["after"]) for one in placed.figures]
    return rendered("result.html.j2", panels, kicker="a concept's margins under uncertainty", **context)


def report_context(every: Answers) -> dict[str, Any]:
    """Return what the template of a report reads; the service's pages show the same."""
    before, after = _numbered(every)
    return {
        "title": every.study.title,
        "option": every.study.option,
        "opening": _opening(every),
        "before": before,
        "after": after,
        "long_names": long_names(_names(every)),
        "notes": _each_once(note for one in every.every for note in one.notes),
        "limits": _each_once(limit for one in every.every for limit in one.limits),
        "result": every.result,
        **_of_result(every),
    }


@dataclass(frozen=True, slots=True)
class _Placed:
    """A section with its figures numbered."""

    section: Section
    figures: list[Numbered]


def _numbered(every: Answers) -> tuple[list[_Placed], list[_Placed]]:
    """Return what stands before the requirement table, and what after; figures are numbered right through."""
    placed, start = [], 1
    for section in sections_of(every):
        placed.append(_Placed(section, numbered(section.panels, start)))
        start += len(section.panels)
    first = 1 if every.drivers is not None else 0
    return placed[:first], placed[first:]


def _opening(every: Answers) -> str:
    """Return the sentence to quote, with what halving one spread buys at best."""
    best = None if every.drivers is None or every.result is None else best_spread(every.drivers)
    return every.sentence if best is None else f"{every.sentence} {best}"


def _of_result(every: Answers) -> dict[str, Any]:
    """Return what only a run gives, and stands empty without one."""
    result = every.result
    if result is None:
        seeds = _each_once(f"{one.seed}" for one in every.every)
        facts = [("study digest", every.study.digest), ("seed", ", ".join(seeds))]
        nothing: dict[str, Any] = {"requirements": [], "confidence": "", "method": "", "mass_budgets": []}
        return {**nothing, "facts": "", "inputs": Table((), ()), "sources": (), "provenance": facts}
    return {
        "facts": _facts(result),
        "requirements": _requirement_rows(result),
        "confidence": level(result.chance.confidence),
        "method": result.chance.method,
        "inputs": _input_table(result),
        "mass_budgets": [mass_budget_view(each) for each in result.mass_budgets],
        "sources": result.sources,
        "provenance": provenance_facts(
            result.provenance, digest=result.study.digest, seed=result.seed, design=result.design
        ),
    }


def _each_once(texts: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(texts))


@dataclass(frozen=True, slots=True)
class _Row:
    """One line of the requirement table; a margin is None where no case was valid."""

    name: str
    says: str
    median: Cell | None
    low: Cell | None
    high: Cell | None
    chance: Cell
    all: bool = False


def _requirement_rows(result: Result) -> list[_Row]:
    together = _Row("everything together", "", None, None, None, _chance(result.chance), all=True)
    return [*(_requirement_row(requirement) for requirement in result.requirements), together]


def _requirement_row(requirement: RequirementResult) -> _Row:
    name, says, held = requirement.name, requirement.sentence, _chance(requirement.chance)
    if requirement.margin is None:
        return _Row(name, says, None, None, None, held)
    at = {q.p: Cell(amount(q.value, requirement.unit), q.value) for q in requirement.margin.quantiles}
    return _Row(name, says, at[0.5], at[0.05], at[0.95], held)


def _chance(given: Chance) -> Cell:
    return Cell(chance(given), given.value)


def _facts(result: Result) -> str:
    cases = result.cases
    invalid = f", {count(cases.invalid)} were numerically invalid and count as not succeeding" if cases.invalid else ""
    return (
        f"{count(cases.total)} cases ({result.design} draws, seed {result.seed}): "
        f"{count(cases.succeeded)} succeeded, {count(cases.failed)} failed{invalid}."
    )


def _input_table(result: Result) -> Table:
    headers = ("number", "law", "mean", "standard deviation")
    rows = [
        (
            Cell(given.name),
            Cell(law_text(given.law), drawing=law_outline(given.outline)),
            Cell(amount(given.mean, "", 6), given.mean),
            Cell(amount(given.sd, ""), given.sd),
        )
        for given in result.inputs
    ]
    marks = [Cell(_marks(given)) for given in result.inputs]
    if not any(mark.text for mark in marks):
        return Table(headers, tuple(rows))
    return Table((*headers, "what it is"), tuple((*row, mark) for row, mark in zip(rows, marks, strict=True)))


def _marks(given: InputSummary) -> str:
    """Return what is said of a number beside its law: that it is only not known, that its law is practice."""
    kind = ["knowledge"] if given.kind == "knowledge" else []
    practice = [] if given.practice is None else [f"practice: {given.practice}"]
    return "; ".join([*kind, *practice])


def _names(every: Answers) -> Iterable[str | None]:
    labels = (every.study.title, every.study.option)
    result = every.result
    if result is None:
        return labels
    return chain(
        labels,
        (requirement.name for requirement in result.requirements),
        (row.leg for row in result.ledger),
        (tank for row in result.ledger for tank in row.propellant_kg),
        (given.name for given in result.inputs),
        (each.element for each in result.mass_budgets),
    )
