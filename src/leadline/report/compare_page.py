"""The report of options side by side."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from leadline.report.figures.compare import compare_panels, option_name
from leadline.report.page import long_names, numbered, provenance_facts, rendered, save
from leadline.report.panel import Cell, Table
from leadline.report.wording import chance, count, difference, share
from leadline.run.result import Chance, CompareResult, OptionResult

__all__ = ["comparison_context", "render_compare_report", "write_compare_report"]


def write_compare_report(comparison: CompareResult, path: Path) -> None:
    """Write the report of a comparison as one HTML file that needs nothing else.

    Parameters
    ----------
    comparison
        What was computed.
    path
        File to write; an existing one is replaced in one step.

    Raises
    ------
    OutputError
        If the file cannot be written, or plotly is not installed.
    """
    save(render_compare_report(comparison), path)


def render_compare_report(comparison: CompareResult) -> str:
    """Return the report of a comparison as HTML text."""
    context = comparison_context(comparison)
    panels = [one.panel for one in context["figures"]]
    return rendered("compare.html.j2", panels, kicker="options side by side on the same draws", **context)


def comparison_context(comparison: CompareResult) -> dict[str, Any]:
    """Return what the template of a comparison reads; the service's pages show the same."""
    names = (option.name for option in comparison.options)
    return {
        "title": comparison.study.title,
        "result": comparison,
        "facts": _facts(comparison),
        "figures": numbered(compare_panels(comparison)),
        "sentences": [option.sentence for option in comparison.options],
        "chances": _chance_table(comparison.options),
        "separations": _separation_table(comparison.options),
        "long_names": long_names((comparison.study.title, *names)),
        "provenance": provenance_facts(
            comparison.provenance,
            digest=comparison.study.digest,
            seed=comparison.seed,
            design=comparison.design,
        ),
    }


def _facts(comparison: CompareResult) -> str:
    invalid = sum(option.cases.invalid for option in comparison.options)
    said = f" {count(invalid)} cases were numerically invalid and count as not succeeding." if invalid else ""
    cases = max((option.cases.total for option in comparison.options), default=0)
    return f"{count(cases)} cases each ({comparison.design} draws, seed {comparison.seed}).{said}"


def _separation_table(options: tuple[OptionResult, ...]) -> Table:
    """Return what fails each option most, and which requirement ends most differently than under the base."""
    headers = (
        "option",
        "fails most",
        "in",
        "separates it from the base",
        "required",
        "chance of it, against the base",
        "succeeds where the base fails",
    )
    return Table(headers, tuple(_separation_row(option) for option in options) if len(options) > 1 else ())


def _separation_row(option: OptionResult) -> tuple[Cell, ...]:
    worst = min(option.requirements, key=lambda each: each.chance.value, default=None)
    fails = (Cell("none"), Cell(""))
    if worst is not None and worst.chance.value < 1:
        fails = Cell(worst.name), Cell(share(1 - worst.chance.value), 1 - worst.chance.value)
    apart = (Cell(""), Cell(""), Cell(""))
    if option.separations:
        most = option.separations[0]
        apart = Cell(most.requirement), Cell(most.required), Cell(difference(most.difference), most.difference.value)
    where = option.where_base_fails
    beats = Cell("") if where is None else Cell(f"in {chance(where)}", where.value)
    return Cell(option_name(option)), *fails, *apart, beats


def _chance_table(options: tuple[OptionResult, ...]) -> Table:
    """Return requirements down, options across; an option may lack a requirement."""
    names = dict.fromkeys(given.name for option in options for given in option.requirements)
    held = [{given.name: given.chance for given in option.requirements} for option in options]
    rows = [(Cell(name), *(_held(chances.get(name)) for chances in held)) for name in names]
    together = tuple(Cell(chance(option.chance), option.chance.value) for option in options)
    return Table(
        ("requirement", *(option_name(option) for option in options)),
        (*rows, (Cell("everything together"), *together)),
    )


def _held(given: Chance | None) -> Cell:
    return Cell("not required") if given is None else Cell(chance(given), given.value)
