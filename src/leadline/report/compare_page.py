"""The report of options side by side."""

from __future__ import annotations

from pathlib import Path

from leadline.report.figures.compare import compare_panels, option_name
from leadline.report.page import long_names, numbered, provenance_facts, rendered, save
from leadline.report.panel import Cell, Table
from leadline.report.wording import chance, count
from leadline.run.result import Chance, CompareResult, OptionResult

__all__ = ["render_compare_report", "write_compare_report"]


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
    figures = numbered(compare_panels(comparison))
    names = (option.name for option in comparison.options)
    return rendered(
        "compare.html.j2",
        [one.panel for one in figures],
        title=comparison.study.title,
        kicker="options side by side on the same draws",
        result=comparison,
        facts=_facts(comparison),
        figures=figures,
        sentences=[option.sentence for option in comparison.options],
        chances=_chance_table(comparison.options),
        long_names=long_names((comparison.study.title, *names)),
        provenance=provenance_facts(
            comparison.provenance,
            digest=comparison.study.digest,
            seed=comparison.seed,
            design=comparison.design,
        ),
    )


def _facts(comparison: CompareResult) -> str:
    invalid = sum(option.cases.invalid for option in comparison.options)
    said = f" {count(invalid)} cases were numerically invalid and count as not succeeding." if invalid else ""
    cases = max((option.cases.total for option in comparison.options), default=0)
    return f"{count(cases)} cases each ({comparison.design} draws, seed {comparison.seed}).{said}"


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
