"""A study looked over: its dispersed numbers, legs, requirements, and the case at the medians."""

from __future__ import annotations

from typing import Literal

import numpy as np
from pydantic import JsonValue

from leadline.budget import compile_plan
from leadline.run.answer import input_summaries, sources_of
from leadline.run.answer_words import study_label
from leadline.run.case import CaseAccount, account
from leadline.run.limits import limits_of
from leadline.run.mass_budgets import mass_budgets
from leadline.run.result import Document, InputSummary, MassBudgetResult, StudyLabel
from leadline.study import Study

__all__ = ["CheckResult", "Dependence", "LegLabel", "PracticeLaw", "RequirementText", "check"]


class LegLabel(Document):
    """A leg and what kind it is."""

    name: str
    kind: str


class RequirementText(Document):
    """A requirement in words; `unit` is that of its margin."""

    name: str
    kind: str
    unit: str
    sentence: str


class Dependence(Document):
    """Two dispersed numbers and their rank correlation."""

    between: tuple[str, str]
    rank: float


class PracticeLaw(Document):
    """A number that rests on a practice law: which one, what it says, the law it makes in SI, where it is from."""

    name: str
    practice: str
    says: str
    law: dict[str, JsonValue]
    source: str
    standing: str


class CheckResult(Document):
    """A study as it was understood, all in SI.

    `nominal` is the case at the median of every dispersed number, `resolved` the whole study
    with every default and unit resolved. `practice` lists the numbers whose law is a default.
    """

    leadline: Literal[1] = 1
    kind: Literal["check"] = "check"
    study: StudyLabel
    inputs: tuple[InputSummary, ...]
    practice: tuple[PracticeLaw, ...]
    dependence: tuple[Dependence, ...]
    mass_budgets: tuple[MassBudgetResult, ...]
    legs: tuple[LegLabel, ...]
    requirements: tuple[RequirementText, ...]
    options: tuple[str, ...]
    nominal: CaseAccount
    notes: tuple[str, ...]
    limits: tuple[str, ...]
    sources: tuple[str, ...]
    resolved: dict[str, JsonValue]


def check(study: Study) -> CheckResult:
    """Return what a study says, with its median case flown."""
    plan = compile_plan(study.mission)
    medians = [float(each.law.quantile(0.5)) for each in study.inputs]
    columns = np.array(medians).reshape(-1, 1)
    names = tuple(each.name for each in study.inputs)
    ledger = plan.ledger(columns)
    return CheckResult(
        study=study_label(study),
        inputs=input_summaries(study),
        practice=_practice(study),
        mass_budgets=mass_budgets(study),
        dependence=tuple(Dependence(between=(each.first, each.second), rank=each.rank) for each in study.correlations),
        legs=tuple(LegLabel(name=row.name, kind=row.kind) for row in ledger.rows[1:]),
        requirements=tuple(
            RequirementText(name=each.name, kind=each.kind, unit=each.unit, sentence=each.sentence)
            for each in plan.requirements
        ),
        options=study.options,
        nominal=account(plan, names, columns, plan.evaluate(columns), ledger, 0),
        notes=study.notes,
        limits=limits_of(study),
        sources=sources_of(study, plan),
        resolved=study.resolved(),
    )


def _practice(study: Study) -> tuple[PracticeLaw, ...]:
    return tuple(
        PracticeLaw(
            name=one.name,
            practice=one.practice.name,
            says=one.practice.says,
            law=dict(one.law.describe()),
            source=str(one.practice.source),
            standing=one.practice.source.standing.value,
        )
        for one in study.practices
    )
