"""The deterministic mass budget of an element, for the page of a run."""

from __future__ import annotations

from dataclasses import dataclass

from leadline.report.panel import Cell, Table
from leadline.report.wording import amount, share
from leadline.run.result import MassBudgetResult

__all__ = ["MassBudgetView", "mass_budget_view"]

DIGITS = 4


@dataclass(frozen=True, slots=True)
class MassBudgetView:
    """An element's mass budget: its masses in a sentence, margins in a table, chances in a sentence."""

    element: str
    masses: str
    margins: Table
    chances: str


def mass_budget_view(given: MassBudgetResult) -> MassBudgetView:
    """Return a mass budget as the page shows it."""
    return MassBudgetView(given.element, _masses(given), _margins(given), _chances(given))


def _masses(given: MassBudgetResult) -> str:
    maturity = "" if given.maturity is None else f" at maturity {given.maturity}"
    return (
        f"Best estimate {_mass(given.best_kg)}, growth allowance {_mass(given.growth_kg)}"
        f" ({_percent(given.growth)}{maturity}), predicted {_mass(given.predicted_kg)};"
        f" allowable {_mass(given.allowable_kg)}, which leaves {_mass(given.margin_kg)}."
    )


def _margins(given: MassBudgetResult) -> Table:
    rows = [
        (Cell(one.name), Cell(_percent(one.value), one.value), Cell(one.formula), Cell(one.standing))
        for one in given.margins
    ]
    return Table(("definition", "margin", "formula", "how well known"), tuple(rows))


def _chances(given: MassBudgetResult) -> str:
    if given.chance_within_allowable is None or given.chance_within_predicted is None:
        return "The dry mass is one fixed number, so no chance stands beside it."
    return (
        f"Under the law of the dry mass, the chance that it is at most {_mass(given.allowable_kg)} is"
        f" {share(given.chance_within_allowable)}; that it is at most the predicted {_mass(given.predicted_kg)},"
        f" {share(given.chance_within_predicted)}."
    )


def _mass(value_kg: float) -> str:
    return amount(value_kg, "kg", DIGITS)


def _percent(value: float) -> str:
    return f"{amount(100 * value, '', DIGITS)}\u202f%"
