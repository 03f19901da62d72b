"""A case leg by leg, and a study's inputs, as lines for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from leadline.cli.tables import columns, printable
from leadline.units import humanise

if TYPE_CHECKING:
    from leadline.run.case import CaseAccount, CaseRow, InputValue
    from leadline.run.check import Dependence
    from leadline.run.result import InputSummary, StudyLabel

__all__ = ["account_lines", "input_lines", "law_words", "note_lines", "title_line", "value_lines"]

DIGITS = 6
"""Enough for the sums of a ledger to be followed by hand."""


def title_line(study: StudyLabel) -> str:
    """Return the study's title, with the option it was taken with."""
    option = "" if study.option is None else f", option {study.option}"
    return printable(f"{study.title}{option}  [{study.digest[:12]}]")


def note_lines(notes: Sequence[str]) -> list[str]:
    """Return notes, one a line."""
    return ["", "Notes:", *(f"  {printable(note)}" for note in notes)] if notes else []


def input_lines(inputs: Sequence[InputSummary], dependence: Sequence[Dependence]) -> list[str]:
    """Return dispersed numbers with their laws and what ties them; their kind where some are knowledge."""
    if not inputs:
        return []
    rows = [("dispersed number", "SI", "law", "mean", "sd")]
    rows += [(each.name, each.unit, law_words(each.law), _brief(each.mean), _brief(each.sd)) for each in inputs]
    table = columns([(*row, *kind) for row, kind in zip(rows, _kinds(inputs), strict=True)], right=(3, 4))
    ties = [f"  {' and '.join(tie.between)}: rank correlation {tie.rank:g}" for tie in dependence]
    return ["", *table, *map(printable, ties)]


def _kinds(inputs: Sequence[InputSummary]) -> list[tuple[str, ...]]:
    """Return a column of the inputs' kinds, its head first; none where all differ from flight to flight."""
    if all(each.kind == "flight" for each in inputs):
        return [() for _ in range(len(inputs) + 1)]
    return [("kind",), *((each.kind,) for each in inputs)]


def law_words(law: Mapping[str, object]) -> str:
    """Return a law with its parameters, SI."""
    parameters = [f"{name} {_brief(value)}" for name, value in law.items() if name != "law"]
    return f"{law['law']}: {', '.join(parameters)}"


def _brief(value: object) -> str:
    if isinstance(value, float | int):
        return f"{value:.{DIGITS}g}"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return f"of {len(value)} numbers"
    return str(value)


def value_lines(values: Sequence[InputValue]) -> list[str]:
    """Return the dispersed numbers' values in one case."""
    rows = [("dispersed number (SI)", "value"), *((each.name, f"{each.value:.{DIGITS}g}") for each in values)]
    return ["", *columns(rows, right=(1,))] if values else []


def account_lines(account: CaseAccount) -> list[str]:
    """Return how a case went: every leg, then every requirement."""
    lines = [line for row in account.ledger for line in _row_lines(row)]
    rows = [("requirement", "margin", "", "")]
    rows += [
        (each.name, _said(each.margin, each.unit), "met" if each.met else "NOT MET", each.sentence)
        for each in account.requirements
    ]
    return [*lines, "", *columns(rows, right=(1,)), "", _ending(account)]


def _row_lines(row: CaseRow) -> Iterable[str]:
    yield printable(f"  {row.leg} ({row.kind})" if row.kind != "start" else "  start")
    held = [f"{tank} {_liquids(liquids)}" for tank, liquids in row.propellant_kg.items()]
    did = [_quantity(name, value) for name, value in row.quantities.items()]
    yield printable(f"      stack {_said(row.mass_kg, 'kg')} after {_said(row.elapsed_s, 's')}")
    for line in (did, held):
        if line:
            yield printable(f"      {'; '.join(line)}")


def _liquids(liquids: Mapping[str, float | None]) -> str:
    return " + ".join(f"{_said(mass, 'kg')} {role}" for role, mass in liquids.items())


UNIT_ENDINGS = {
    "_w_m2": "W/m2",
    "_j_m2": "J/m2",
    "_m_s2": "m/s2",
    "_kg_m3": "kg/m3",
    "_kg_m2": "kg/m2",
    "_j_kg": "J/kg",
    "_m_s": "m/s",
    "_rad": "rad",
    "_kg": "kg",
    "_m3": "m3",
    "_m2": "m2",
    "_s": "s",
    "_w": "W",
    "_n": "N",
    "_m": "m",
}
"""Unit by the end of a quantity's name; the first that fits."""


def _quantity(name: str, value: float | None) -> str:
    """Say a quantity such as ``boiled_off_kg.tug.main.fuel``, its unit taken from its name."""
    stem, _, where = name.partition(".")
    for ending, unit in UNIT_ENDINGS.items():
        if stem.endswith(ending):
            said = f"{stem.removesuffix(ending).replace('_', ' ')} {_said(value, unit)}"
            return f"{said} ({where})" if where else said
    said = f"{stem.replace('_', ' ')} {_said(value, '')}"
    return f"{said} ({where})" if where else said


def _said(value: float | None, unit: str) -> str:
    return "not a number" if value is None else humanise(value, unit, DIGITS)


def _ending(account: CaseAccount) -> str:
    if account.state == "invalid":
        return "The case is invalid: a margin is no number."
    if account.first_failure is None:
        return "The case succeeds: every requirement is met."
    failed = account.first_failure
    where = "before the first leg" if failed.leg is None else f"at {failed.leg}"
    return printable(f"The case fails: {failed.requirement} first, {where}.")
