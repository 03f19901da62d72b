"""The report of one run."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import chain
from pathlib import Path

from leadline.report.figures.failures import combination_table, failure_panels
from leadline.report.figures.ledger import ledger_panels
from leadline.report.figures.margins import margin_panels
from leadline.report.laws import law_text
from leadline.report.mass_budgets import mass_budget_view
from leadline.report.page import long_names, numbered, provenance_facts, rendered, save
from leadline.report.panel import Cell, Table
from leadline.report.wording import amount, chance, count, level
from leadline.run.result import Chance, InputSummary, RequirementResult, Result

__all__ = ["render_report", "write_report"]


def write_report(result: Result, path: Path) -> None:
    """Write the report of a run as one HTML file that needs nothing else.

    Parameters
    ----------
    result
        What was computed.
    path
        File to write; an existing one is replaced in one step.

    Raises
    ------
    OutputError
        If the file cannot be written, or plotly is not installed.
    """
    save(render_report(result), path)


def render_report(result: Result) -> str:
    """Return the report of a run as HTML text."""
    margins = numbered(margin_panels(result))
    ledger = numbered(ledger_panels(result), 1 + len(margins))
    failures = numbered(failure_panels(result), 1 + len(margins) + len(ledger))
    return rendered(
        "result.html.j2",
        [one.panel for one in (*margins, *ledger, *failures)],
        title=result.study.title,
        kicker="a concept's margins under uncertainty",
        result=result,
        facts=_facts(result),
        requirements=_requirement_rows(result),
        confidence=level(result.chance.confidence),
        method=result.chance.method,
        margins=margins,
        ledger=ledger,
        ledger_cases=count(result.ledger_cases),
        failures=failures,
        combinations=combination_table(result),
        inputs=_input_table(result),
        mass_budgets=[mass_budget_view(each) for each in result.mass_budgets],
        long_names=long_names(_names(result)),
        provenance=provenance_facts(
            result.provenance, digest=result.study.digest, seed=result.seed, design=result.design
        ),
    )


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
            Cell(law_text(given.law)),
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


def _names(result: Result) -> chain[str | None]:
    return chain(
        (result.study.title, result.study.option),
        (requirement.name for requirement in result.requirements),
        (row.leg for row in result.ledger),
        (tank for row in result.ledger for tank in row.propellant_kg),
        (given.name for given in result.inputs),
        (each.element for each in result.mass_budgets),
    )
