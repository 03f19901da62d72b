"""The deterministic view of each element's mass, beside the chance that its law gives."""

from __future__ import annotations

from collections.abc import Mapping

from leadline.budget.margin_definitions import DEFINITIONS, MarginDefinition, MassBudget
from leadline.constants import Source
from leadline.run.result import MassBudgetResult, MassMargin
from leadline.sampling import Law
from leadline.study import Study
from leadline.study.model_mass_budget import MassBudgetRecord
from leadline.study.practice import MATURITIES

__all__ = ["mass_budgets", "sources_of_practice"]


def mass_budgets(study: Study) -> tuple[MassBudgetResult, ...]:
    """Return the mass budgets that a study writes, in the order of its elements."""
    laws = {given.name: given.law for given in study.inputs}
    return tuple(
        _budget(name, element.mass_budget, laws)
        for name, element in study.document.vehicle.items()
        if element.mass_budget is not None
    )


def _budget(element: str, written: MassBudgetRecord, laws: Mapping[str, Law]) -> MassBudgetResult:
    masses = written.masses
    law = laws.get(f"vehicle.{element}.dry_mass")
    return MassBudgetResult(
        element=element,
        best_kg=masses.best_kg,
        growth=masses.growth,
        maturity=written.maturity,
        growth_kg=masses.growth_kg,
        predicted_kg=masses.predicted_kg,
        allowable_kg=masses.allowable_kg,
        margin_kg=masses.margin_kg,
        margins=tuple(_margin(definition, masses) for definition in DEFINITIONS),
        chance_within_allowable=None if law is None else float(law.cdf(masses.allowable_kg)),
        chance_within_predicted=None if law is None else float(law.cdf(masses.predicted_kg)),
    )


def _margin(definition: MarginDefinition, masses: MassBudget) -> MassMargin:
    return MassMargin(
        name=definition.name,
        formula=definition.formula,
        value=definition.share(masses),
        source=str(definition.source),
        standing=definition.source.standing.value,
    )


def sources_of_practice(study: Study) -> tuple[Source, ...]:
    """Return the sources of a study's practice laws, growth allowances and margin definitions, each once."""
    found = [one.practice.source for one in study.practices]
    budgets = [one.mass_budget for one in study.document.vehicle.values() if one.mass_budget is not None]
    found += [MATURITIES[one.maturity].source for one in budgets if one.maturity is not None]
    found += [definition.source for definition in DEFINITIONS if budgets]
    return tuple(dict.fromkeys(found))
