"""From what a run's blocks came to, to the result document."""

from __future__ import annotations

import math
from dataclasses import dataclass

from leadline.budget import Plan
from leadline.risk import (
    Interval,
    binned_quantile,
    clopper_pearson,
    judge,
    judge_replicates,
    replicate_interval,
    words,
)
from leadline.run.answer_words import INTERVAL_CONFIDENCE, as_chance, chance_words, study_label
from leadline.run.blocks import Spans
from leadline.run.first_cases import first_cases
from leadline.run.first_result import Settled
from leadline.run.limits import limits_of
from leadline.run.mass_budgets import mass_budgets, sources_of_practice
from leadline.run.provenance import provenance
from leadline.run.result import (
    OUTLINE,
    QUANTILES,
    Cases,
    Chance,
    Combination,
    FirstFailure,
    HistogramBins,
    InputSummary,
    JudgementResult,
    MarginSummary,
    Quantile,
    RequirementResult,
    Result,
)
from leadline.run.summary import BlockSummary
from leadline.run.units_of_inputs import units_of_inputs
from leadline.run.unknowns import unknowns_of
from leadline.run.work import Prepared
from leadline.sampling import Design
from leadline.study import Study

__all__ = [
    "Asked",
    "answer",
    "cases_of",
    "chance_of",
    "first_failures",
    "input_summaries",
    "requirement_chance",
    "sources_of",
]

HISTOGRAM_BINS = 240

NOT_ASKED = JudgementResult(
    asked=None,
    confidence=None,
    verdict="not asked",
    more_cases=None,
    sentence="The study asks for no chance, so there is nothing to judge against.",
)


@dataclass(frozen=True, slots=True)
class Asked:
    """What a run was asked and how far it came.

    `spans` are the blocks finished; `missed_until` is the half-width wanted and not reached
    within `cases`.
    """

    seed: int
    design: Design
    cases: int
    spans: Spans
    partial: bool
    missed_until: float | None = None


def chance_of(ready: Prepared, summary: BlockSummary) -> Chance:
    """Return the chance that every requirement is met, with its interval."""
    return as_chance(_interval(ready, summary, None, summary.succeeded))


def requirement_chance(ready: Prepared, summary: BlockSummary, requirement: int) -> Chance:
    """Return the chance that one requirement is met; an invalid case does not meet it."""
    met = summary.valid - int(summary.failures[requirement])
    return as_chance(_interval(ready, summary, requirement, met))


def _interval(ready: Prepared, summary: BlockSummary, requirement: int | None, met: int) -> Interval:
    if ready.sampler.replicates:
        return replicate_interval(summary.replicates(requirement), INTERVAL_CONFIDENCE)
    return clopper_pearson(met, summary.cases, INTERVAL_CONFIDENCE)


def answer(ready: Prepared, summary: BlockSummary, asked: Asked) -> Result:
    """Return the result of a run.

    Parameters
    ----------
    ready
        What was computed.
    summary
        What its blocks came to, together.
    asked
        What was asked and how far it came.
    """
    first = first_cases(ready, summary.cases)
    chance = chance_of(ready, summary)
    failures = first_failures(ready, summary)
    return Result(
        study=study_label(ready.study),
        seed=asked.seed,
        design=asked.design.value,
        partial=asked.partial,
        cases=cases_of(summary),
        chance=chance,
        requirements=_requirements(ready, summary),
        first_failures=failures,
        combinations=_combinations(ready, summary),
        judgement=_judgement(ready, summary),
        unknowns=unknowns_of(ready, asked.seed),
        settling=(*first.settling, Settled(cases=summary.cases, chance=chance)),
        shares=first.shares,
        shifts=first.shifts,
        ledger=first.ledger,
        ledger_cases=first.cases,
        inputs=input_summaries(ready.study),
        mass_budgets=mass_budgets(ready.study),
        notes=(*ready.study.notes, *_run_notes(summary, asked)),
        limits=limits_of(ready.study),
        sources=sources_of(ready.study, ready.plan),
        provenance=provenance(ready, asked.spans, summary.cases),
        sentence=_sentence(ready, summary, chance, failures, partial=asked.partial),
    )


def cases_of(summary: BlockSummary) -> Cases:
    """Return how the cases ended."""
    return Cases(
        total=summary.cases,
        succeeded=summary.succeeded,
        failed=summary.failed,
        invalid=summary.invalid,
    )


def input_summaries(study: Study) -> tuple[InputSummary, ...]:
    """Return the dispersed numbers with their laws."""
    units = units_of_inputs(study)
    practices = {(one.name, one.law): one.practice.name for one in study.practices}
    return tuple(
        InputSummary(
            name=each.name,
            unit=units[each.name],
            law=dict(each.law.describe()),
            mean=each.law.mean,
            sd=each.law.sd,
            kind="knowledge" if each.name in study.knowledge else "flight",
            practice=practices.get((each.name.partition("#")[0], each.law)),
            outline=tuple(float(f"{each.law.quantile(p):.6g}") for p in OUTLINE),
        )
        for each in study.inputs
    )


def sources_of(study: Study, plan: Plan) -> tuple[str, ...]:
    """Return what a result rests on: the study's own sources, then those of what was used."""
    used = dict.fromkeys((*plan.sources, *sources_of_practice(study)))
    return (*study.document.sources, *map(str, used))


def _requirements(ready: Prepared, summary: BlockSummary) -> tuple[RequirementResult, ...]:
    return tuple(
        RequirementResult(
            name=label.name,
            kind=label.kind,
            unit=label.unit,
            sentence=label.sentence,
            chance=requirement_chance(ready, summary, position),
            margin=_margin(ready, summary, position) if summary.valid else None,
        )
        for position, label in enumerate(ready.plan.requirements)
    )


def _margin(ready: Prepared, summary: BlockSummary, requirement: int) -> MarginSummary:
    mean, sd = summary.moments(requirement)
    bins = summary.histogram(requirement).coarsen(HISTOGRAM_BINS)
    return MarginSummary(
        mean=mean,
        sd=sd,
        low=float(summary.minimum[requirement]),
        high=float(summary.maximum[requirement]),
        quantiles=tuple(_quantile(ready, summary, requirement, p) for p in QUANTILES),
        histogram=HistogramBins(
            start=bins.start, width=bins.width, counts=bins.counts, under=bins.under, over=bins.over
        ),
    )


def _quantile(ready: Prepared, summary: BlockSummary, requirement: int, p: float) -> Quantile:
    independent = not ready.sampler.replicates
    found = binned_quantile(summary.binned(requirement), p, INTERVAL_CONFIDENCE, independent=independent)
    return Quantile(p=p, value=found.value, low=_finite(found.low), high=_finite(found.high))


def _finite(bound: float) -> float | None:
    return bound if math.isfinite(bound) else None


def first_failures(ready: Prepared, summary: BlockSummary) -> tuple[FirstFailure, ...]:
    """Return where failed cases failed first, most frequent first."""
    found = []
    for check, count in zip(ready.plan.checks, summary.first_failures.tolist(), strict=True):
        if count:
            name = ready.plan.requirements[check.requirement].name
            leg = ready.plan.legs[check.leg] if check.leg >= 0 else None
            share = count / summary.failed
            found.append(FirstFailure(requirement=name, leg=leg, share=share, cases=count))
    return tuple(sorted(found, key=lambda each: -each.cases))


def _combinations(ready: Prepared, summary: BlockSummary) -> tuple[Combination, ...]:
    names = [label.name for label in ready.plan.requirements]
    found = [
        Combination(
            requirements=tuple(name for bit, name in enumerate(names) if key >> bit & 1),
            share=count / summary.failed,
            cases=count,
        )
        for key, count in sorted(summary.combinations.items())
    ]
    if summary.more:
        share = summary.more / summary.failed
        found.append(Combination(requirements=(), share=share, cases=summary.more, more=True))
    return tuple(sorted(found, key=lambda each: -each.cases))


def _judgement(ready: Prepared, summary: BlockSummary) -> JudgementResult:
    ask = ready.study.ask
    if ask is None:
        return NOT_ASKED
    if ready.sampler.replicates:
        judged = judge_replicates(summary.replicates(), ask.chance, ask.confidence)
    else:
        judged = judge(summary.succeeded, summary.cases, ask.chance, ask.confidence)
    return JudgementResult(
        asked=judged.asked,
        confidence=judged.confidence,
        verdict=judged.verdict.value,
        more_cases=judged.more_cases,
        sentence=judged.sentence,
    )


def _sentence(
    ready: Prepared,
    summary: BlockSummary,
    chance: Chance,
    failures: tuple[FirstFailure, ...],
    *,
    partial: bool,
) -> str:
    title = ready.study.title
    option = "" if ready.study.option is None else f", option {ready.study.option}"
    early = ", the run being stopped early" if partial else ""
    said = (
        f"{title}{option}: the chance that every requirement is met is {chance_words(chance)}, "
        f"from {words.count(summary.cases)} cases{early}"
    )
    if not failures:
        return f"{said}."
    return f"{said}; {_first_words(failures[0])}."


def _first_words(failure: FirstFailure) -> str:
    where = "before the first leg" if failure.leg is None else f"at {failure.leg}"
    often = f"in {words.share(failure.share)} of the failures"
    return f"what fails first is most often {failure.requirement}, {where} ({often})"


def _run_notes(summary: BlockSummary, asked: Asked) -> list[str]:
    notes = []
    if asked.partial:
        done, wanted = words.count(summary.cases), words.count(asked.cases)
        notes.append(f"The run was stopped early: {done} of {wanted} cases.")
    elif asked.missed_until is None and summary.cases > asked.cases:
        notes.append(
            f"{words.count(asked.cases)} cases were asked for; blocks of this design are only balanced"
            f" whole, so {words.count(summary.cases)} were computed."
        )
    if asked.missed_until is not None:
        notes.append(
            f"The half-width of {words.level(asked.missed_until)} that was asked for was not reached"
            f" within {words.count(summary.cases)} cases."
        )
    if summary.invalid:
        notes.append(
            f"{words.count(summary.invalid)} cases had a margin that is no number; they count as not succeeding."
        )
    return notes
