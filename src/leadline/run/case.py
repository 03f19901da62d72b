"""One case leg by leg, as a document: replayed from a run, or at the median of every input."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
import numpy.typing as npt

from leadline.budget import Ledger, LedgerRow, Outcome, Plan, RequirementLabel
from leadline.run.endings import valid_cases
from leadline.run.result import Document

__all__ = [
    "CaseAccount",
    "CaseRequirement",
    "CaseRow",
    "CaseState",
    "FailedCheck",
    "InputValue",
    "account",
]

Array = npt.NDArray[np.float64]
CaseState = Literal["succeeds", "fails", "invalid"]


class InputValue(Document):
    """A dispersed number's value in this case, SI."""

    name: str
    value: float


class CaseRequirement(Document):
    """One requirement in this case; `margin` is None where it is no finite number."""

    name: str
    kind: str
    unit: str
    sentence: str
    margin: float | None
    met: bool


class FailedCheck(Document):
    """The first check that failed; `leg` is None before the first leg."""

    requirement: str
    leg: str | None


class CaseRow(Document):
    """The account after one leg; a quantity that is no finite number is None."""

    leg: str
    kind: str
    mass_kg: float | None
    propellant_kg: dict[str, dict[str, float | None]]
    elapsed_s: float | None
    quantities: dict[str, float | None]


class CaseAccount(Document):
    """How one case went."""

    state: CaseState
    first_failure: FailedCheck | None
    inputs: tuple[InputValue, ...]
    requirements: tuple[CaseRequirement, ...]
    ledger: tuple[CaseRow, ...]


def account(
    plan: Plan, names: tuple[str, ...], columns: Array, outcome: Outcome, ledger: Ledger, at: int
) -> CaseAccount:
    """Return the account of one of n cases.

    Parameters
    ----------
    plan
        What was flown.
    names
        Names of the d inputs.
    columns : (d, n)
        The inputs' values.
    outcome, ledger
        What became of the n cases.
    at
        Which of them.
    """
    margins = outcome.margins[:, at]
    valid = bool(valid_cases(margins.reshape(-1, 1))[0])
    failed = _first_failed(plan, outcome, at) if valid else None
    labels = zip(plan.requirements, margins, strict=True)
    values = zip(names, columns[:, at], strict=True)
    return CaseAccount(
        state="invalid" if not valid else "succeeds" if (margins >= 0).all() else "fails",
        first_failure=failed,
        inputs=tuple(InputValue(name=name, value=float(value)) for name, value in values),
        requirements=tuple(_requirement(label, margin) for label, margin in labels),
        ledger=tuple(_row(row, at) for row in ledger.rows),
    )


def _first_failed(plan: Plan, outcome: Outcome, at: int) -> FailedCheck | None:
    for check, row in zip(plan.checks, outcome.check_rows, strict=True):
        if row[at] < 0:
            leg = plan.legs[check.leg] if check.leg >= 0 else None
            return FailedCheck(requirement=plan.requirements[check.requirement].name, leg=leg)
    return None


def _requirement(label: RequirementLabel, margin: float) -> CaseRequirement:
    return CaseRequirement(
        name=label.name,
        kind=label.kind,
        unit=label.unit,
        sentence=label.sentence,
        margin=_finite(margin),
        met=bool(math.isfinite(margin) and margin >= 0),
    )


def _row(row: LedgerRow, at: int) -> CaseRow:
    return CaseRow(
        leg=row.name,
        kind=row.kind,
        mass_kg=_finite(row.stack_mass_kg[at]),
        propellant_kg={
            tank: {role: _finite(held[at]) for role, held in liquids.items()}
            for tank, liquids in row.propellant_kg.items()
        },
        elapsed_s=_finite(row.elapsed_s[at]),
        quantities={name: _finite(values[at]) for name, values in row.quantities.items()},
    )


def _finite(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None
