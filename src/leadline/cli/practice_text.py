"""What of a study is trade practice, and its mass budgets, as lines for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from leadline.cli.account_text import law_words
from leadline.cli.tables import columns, printable
from leadline.units import humanise

if TYPE_CHECKING:
    from leadline.run.check import PracticeLaw
    from leadline.run.result import MassBudgetResult

__all__ = ["mass_budget_lines", "practice_lines"]

DIGITS = 4


def practice_lines(numbers: Sequence[PracticeLaw]) -> list[str]:
    """Return the numbers that rest on a practice law, each with the law it makes (SI) and its source."""
    if not numbers:
        return []
    lines = [line for each in numbers for line in _practice(each)]
    return ["", "Numbers that rest on a practice law, and on no data of their own:", *lines]


def _practice(each: PracticeLaw) -> Iterable[str]:
    yield printable(f"  {each.name}: {each.practice} ({law_words(each.law)})")
    yield printable(f"      {each.says}")
    yield printable(f"      {each.source}")


def mass_budget_lines(budgets: Sequence[MassBudgetResult]) -> list[str]:
    """Return each element's mass budget, its margin under every definition, and what its law says."""
    return [line for each in budgets for line in _budget(each)]


def _budget(each: MassBudgetResult) -> Iterable[str]:
    maturity = "" if each.maturity is None else f" at maturity {each.maturity}"
    yield ""
    yield printable(f"Mass budget of {each.element}:")
    yield (
        f"  best estimate {_mass(each.best_kg)} + growth {_mass(each.growth_kg)} ({_percent(each.growth)}{maturity})"
        f" = predicted {_mass(each.predicted_kg)}; allowable {_mass(each.allowable_kg)},"
        f" so {_mass(each.margin_kg)} are left"
    )
    rows = columns([(_percent(one.value), one.name, one.formula) for one in each.margins], right=(0,))
    for row, one in zip(rows, each.margins, strict=True):
        yield row
        yield printable(f"      {one.source}")
    yield _chances(each)


def _chances(each: MassBudgetResult) -> str:
    from leadline.risk import words

    if each.chance_within_allowable is None or each.chance_within_predicted is None:
        return "  Its dry mass is one fixed number, so no chance stands beside them."
    allowable, predicted = words.share(each.chance_within_allowable), words.share(each.chance_within_predicted)
    return (
        f"  Under the law of its dry mass the chance of at most {_mass(each.allowable_kg)} is {allowable};"
        f" of at most the predicted {_mass(each.predicted_kg)} it is {predicted}."
    )


def _mass(value_kg: float) -> str:
    return humanise(value_kg, "kg", DIGITS)


def _percent(share: float) -> str:
    return f"{humanise(100 * share, '', DIGITS)} %"
