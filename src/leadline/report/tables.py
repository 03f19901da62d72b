"""Every table of a report as comma-separated values, with the exact SI number beside each text shown.

Files are UTF-8 and follow RFC 4180: fields parted by commas, lines ended by CR LF, quotes where
a field needs them. A number is written with as many digits as give the same number again.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator, Sequence

from leadline.report.mass_budgets import mass_budget_view
from leadline.report.panel import Cell, Table
from leadline.report.registry import as_answers
from leadline.report.result_page import report_context
from leadline.report.sections import sections_of
from leadline.report.wording import amount, chance, level, plain, share
from leadline.risk.words import Rounding
from leadline.run.answer_files import Answer, Answers
from leadline.run.answer_tables import Value, answer_rows
from leadline.run.result import RequirementResult, Result

__all__ = ["CONTENTS", "csv_text", "requirement_table", "table_files"]

CONTENTS = "contents.csv"
"""The file that says what each of the others shows."""
EXACT = "SI"
"""What the heading of a column of exact numbers ends with."""


def table_files(given: Answers | Answer | Result) -> dict[str, str]:
    """Return the tables of a report as the texts of files, by name; `CONTENTS` says what each shows.

    Parameters
    ----------
    given
        What was computed.

    Raises
    ------
    ValueError
        There is no answer.
    """
    every = as_answers(given)
    if not every.every:
        raise ValueError("there are no answers")
    found = [(name, says, csv_text(table)) for name, says, table in _named(every)]
    found += _values(every)
    contents = Table(("file", "shows"), tuple((Cell(f"{name}.csv"), Cell(says)) for name, says, _ in found))
    return {CONTENTS: csv_text(contents), **{f"{name}.csv": text for name, _, text in found}}


def csv_text(table: Table) -> str:
    """Return a table as comma-separated values; a column of numbers is followed by one of exact SI values."""
    headers = _beside(table.headers, [f"{header}, {EXACT}" for header in table.headers], table.numeric)
    rows = (
        _beside([cell.text for cell in row], [_exact(cell.value) for cell in row], table.numeric) for row in table.rows
    )
    return _written([headers, *rows])


def _written(rows: Iterable[Sequence[str]]) -> str:
    text = io.StringIO()
    csv.writer(text).writerows([plain(field) for field in row] for row in rows)  # its own manner is that of RFC 4180
    return text.getvalue()


def _beside(texts: Sequence[str], exact: Sequence[str], numeric: Sequence[bool]) -> list[str]:
    """Return texts, each of a column of numbers with its exact one behind it."""
    return [
        part
        for text, number, both in zip(texts, exact, numeric, strict=True)
        for part in ([text, number] if both else [text])
    ]


def _exact(value: Value) -> str:
    """Return a value so that reading it gives the same one again; NumPy's numbers too."""
    match value:
        case None:
            return ""
        case str():
            return value
        case bool():
            return "yes" if value else "no"
        case int():
            return str(value)
        case _:
            return repr(float(value))


def _values(every: Answers) -> Iterator[tuple[str, str, str]]:
    """Yield what the further answers hold as plain values, all of it exact, bounds and settings included."""
    groups = {"drivers": every.drivers, "rare": every.rare}
    found: list[tuple[str, Answer]] = [(name, answer) for name, answer in groups.items() if answer is not None]
    found += [(f"sizing-{number}", answer) for number, answer in enumerate(every.sizings, start=1)]
    found += [(f"sweep-{number}", answer) for number, answer in enumerate(every.sweeps, start=1)]
    for name, answer in found:
        rows = answer_rows(answer)
        if rows:
            lines = [list(rows[0]), *([_exact(value) for value in row.values()] for row in rows)]
            yield f"{name}-values", f"In SI units: {answer.sentence}", _written(lines)


def _named(every: Answers) -> Iterator[tuple[str, str, Table]]:
    """Yield every table with the name of its file and what it shows."""
    if every.result is not None:
        yield "requirements", "What must hold, and by how much it does", requirement_table(every.result)
        yield "inputs", "The uncertain numbers and their laws", _input_table(every)
    for section in sections_of(every):
        yield from ((panel.div_id, f"{panel.title}: {panel.sentence}", panel.table) for panel in section.panels)
        for number, one in enumerate(section.tables, start=1):
            yield f"{section.name}-table-{number}", f"{section.title}: {one.says}", one.table
    budgets = () if every.result is None else every.result.mass_budgets
    for number, budget in enumerate(budgets, start=1):
        view = mass_budget_view(budget)
        yield f"mass-budget-{number}", f"Mass margins of {view.element}: {view.masses}", view.margins


def requirement_table(result: Result) -> Table:
    """Return what must hold: its margins, its chance and the bounds of that, everything together last."""
    bound = f"{level(result.chance.confidence)} interval"
    headers = (
        "requirement",
        "what is required",
        "unit",
        "median margin",
        "5 % of cases below",
        "95 % of cases below",
        "chance that it holds",
        f"from, {bound}",
        f"to, {bound}",
    )
    nothing = (Cell(""),) * 5
    together = (Cell("everything together"), *nothing, *_chance_cells(result))
    rows = [(Cell(one.name), Cell(one.sentence), Cell(one.unit), *_numbers(one)) for one in result.requirements]
    return Table(headers, (*rows, together))


def _numbers(given: RequirementResult) -> tuple[Cell, ...]:
    if given.margin is None:
        return Cell("no valid case"), Cell(""), Cell(""), *_chance_cells(given)
    at = {q.p: Cell(amount(q.value, given.unit), q.value) for q in given.margin.quantiles}
    return at[0.5], at[0.05], at[0.95], *_chance_cells(given)


def _chance_cells(of: RequirementResult | Result) -> tuple[Cell, ...]:
    given = of.chance
    low, high = share(given.low, Rounding.DOWN), share(given.high, Rounding.UP)
    return Cell(chance(given), given.value), Cell(low, given.low), Cell(high, given.high)


def _input_table(every: Answers) -> Table:
    """Return the page's table of what is uncertain, with each law's exact parameters."""
    shown: Table = report_context(every)["inputs"]
    laws = [] if every.result is None else [json.dumps(one.law, ensure_ascii=False) for one in every.result.inputs]
    rows = tuple((*row, Cell(law)) for row, law in zip(shown.rows, laws, strict=True))
    return Table((*shown.headers, f"law, {EXACT}"), rows)
