"""Options side by side, as a document; see `leadline.run.paired` for how they are flown."""

from __future__ import annotations

from collections.abc import Sequence

from leadline.errors import RunError
from leadline.risk import Interval, paired_difference, replicate_difference, words
from leadline.risk.proportion import Replicates
from leadline.run.answer import (
    INTERVAL_CONFIDENCE,
    cases_of,
    chance_of,
    chance_words,
    first_failures,
    requirement_chance,
    study_label,
)
from leadline.run.blocks import lay_out
from leadline.run.engine import Control, Request, RunClock
from leadline.run.executors import Executor, InProcess
from leadline.run.gather import Gathering
from leadline.run.limits import limits_of
from leadline.run.paired import Joint, PairTask, Sides
from leadline.run.provenance import provenance
from leadline.run.result import CompareResult, Difference, OptionChance, OptionResult
from leadline.run.summary import BlockSummary
from leadline.run.work import Prepared, Work, prepared
from leadline.study import Study

__all__ = ["compare"]


def compare(
    study: Study,
    request: Request,
    executor: Executor | None = None,
    control: Control | None = None,
    *,
    options: Sequence[str] | None = None,
) -> CompareResult:
    """Fly the base study and its options on the same draws.

    Parameters
    ----------
    study
        The base study.
    request
        How many cases, from which draws; `until` is not used.
    executor, control
        As for `leadline.run.engine.compute`; nothing is saved on the way.
    options
        Which options; all of the study when None.

    Raises
    ------
    StudyError
        An option cannot be used as written.
    RunError
        Stopped before the first block, or workers or scheduler were lost.
    """
    names = tuple(study.options if options is None else options)
    studies = (study, *(study.with_option(name) for name in names))
    works = tuple(Work.of(each, request.seed, request.design) for each in studies)
    ready = tuple(prepared(work) for work in works)
    size = ready[0].sampler.block_size
    layout = lay_out(request.most_cases, size, cut=not ready[0].sampler.replicates)
    block_s = size * sum(each.case_s for each in ready)
    gathering = Gathering[Sides](PairTask(works), layout, executor or InProcess(), block_s)
    done = _gather(gathering, ready[0], control or Control())
    sides = gathering.total
    if sides is None:
        raise RunError("stopped before the first block of cases was finished; nothing to compare")
    rows = _rows(ready, names, sides)
    return CompareResult(
        study=study_label(study),
        seed=request.seed,
        design=request.design.value,
        partial=not done,
        options=rows,
        notes=study.notes,
        limits=limits_of(study),
        provenance=provenance(ready[0], gathering.all_spans, sides.summaries[0].cases),
        sentence=_sentence(study, rows),
    )


def _gather(gathering: Gathering[Sides], base: Prepared, control: Control) -> bool:
    clock = RunClock(gathering.layout.cases)

    def tell() -> None:
        total = gathering.total
        if total is not None:
            control.progress(clock.progress(base, total.summaries[0]))

    return gathering.up_to_end(control.stopped, tell)


def _rows(ready: Sequence[Prepared], names: Sequence[str], sides: Sides) -> tuple[OptionResult, ...]:
    base = _row(ready[0], None, sides.summaries[0], None)
    options = zip(ready[1:], names, sides.summaries[1:], sides.joints, strict=True)
    return (base, *(_row(*option) for option in options))


def _row(ready: Prepared, name: str | None, summary: BlockSummary, joint: Joint | None) -> OptionResult:
    failures = first_failures(ready, summary)
    chance = chance_of(ready, summary)
    difference = None if joint is None else _difference(ready, joint)
    labels = enumerate(ready.plan.requirements)
    return OptionResult(
        name=name,
        digest=ready.study.digest,
        cases=cases_of(summary),
        chance=chance,
        requirements=tuple(
            OptionChance(name=label.name, chance=requirement_chance(ready, summary, position))
            for position, label in labels
        ),
        first_failure=failures[0] if failures else None,
        difference=difference,
        sentence=_row_sentence(name, chance_words(chance), difference),
    )


def _difference(ready: Prepared, joint: Joint) -> Difference:
    interval = _paired(joint, replicate_cases=ready.sampler.block_size if ready.sampler.replicates else 0)
    return Difference(
        value=interval.value,
        low=max(interval.low, -1.0),
        high=min(interval.high, 1.0),
        confidence=interval.confidence,
        method=interval.method,
        both=joint.both,
        option_only=joint.option_only,
        base_only=joint.base_only,
        neither=joint.neither,
    )


def _paired(joint: Joint, replicate_cases: int) -> Interval:
    """Bound the difference: exactly paired for independent cases, over blocks for replicates."""
    counts = (joint.both, joint.option_only, joint.base_only, joint.neither)
    if not replicate_cases:
        return paired_difference(*counts, INTERVAL_CONFIDENCE)
    blocks = Replicates.of_counts(joint.blocks, joint.excess, joint.excess_squared, replicate_cases, proportion=False)
    return replicate_difference(blocks, *counts, INTERVAL_CONFIDENCE)


def _row_sentence(name: str | None, chance: str, difference: Difference | None) -> str:
    if name is None or difference is None:
        return f"Base study: the chance that every requirement is met is {chance}."
    return f"{name}: the chance that every requirement is met is {chance}, {_difference_words(difference)}."


def _difference_words(difference: Difference) -> str:
    if not difference.option_only and not difference.base_only:
        return "the same in every case as the base"
    low, high = 100 * difference.low, 100 * difference.high
    if low <= 0 <= high:
        return f"not told apart from the base (between {low:+.3g} and {high:+.3g} points)"
    way = "above" if difference.value > 0 else "below"
    return f"{abs(100 * difference.value):.3g} points {way} the base (between {low:+.3g} and {high:+.3g})"


def _sentence(study: Study, rows: Sequence[OptionResult]) -> str:
    best = max(rows, key=lambda row: row.chance.value)
    name = "the base study" if best.name is None else best.name
    cases = words.count(rows[0].cases.total)
    said = f"{study.title}: of the base and {len(rows) - 1} options on the same {cases} cases, {name} has the best"
    return f"{said} chance that every requirement is met, {chance_words(best.chance)}."
