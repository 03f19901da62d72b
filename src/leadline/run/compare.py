"""Options side by side, as a document; see `leadline.run.paired` for how they are flown."""

from __future__ import annotations

from collections.abc import Sequence

from leadline.errors import RunError
from leadline.risk import words
from leadline.run.answer import cases_of, chance_of, first_failures, requirement_chance
from leadline.run.answer_words import chance_words, study_label
from leadline.run.beside import Beside
from leadline.run.blocks import lay_out
from leadline.run.engine import Control, Request, RunClock
from leadline.run.executors import Executor, InProcess
from leadline.run.gather import Gathering
from leadline.run.limits import limits_of
from leadline.run.paired import PairTask, Sides
from leadline.run.provenance import provenance
from leadline.run.result import CompareResult, OptionChance, OptionResult
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
    options = zip(ready[1:], names, sides.summaries[1:], sides.joints, sides.by_requirement, strict=True)
    return (
        base,
        *(
            _row(each, name, summary, Beside.base(ready[0], each, joint, parts))
            for each, name, summary, joint, parts in options
        ),
    )


def _row(ready: Prepared, name: str | None, summary: BlockSummary, beside: Beside | None) -> OptionResult:
    failures = first_failures(ready, summary)
    chance = chance_of(ready, summary)
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
        difference=None if beside is None else beside.difference,
        separations=() if beside is None else beside.separations,
        where_base_fails=None if beside is None else beside.where_base_fails,
        sentence=_row_sentence(name, chance_words(chance), beside),
    )


def _row_sentence(name: str | None, chance: str, beside: Beside | None) -> str:
    if name is None or beside is None:
        return f"Base study: the chance that every requirement is met is {chance}."
    return f"{name}: the chance that every requirement is met is {chance}, {beside.words}."


def _sentence(study: Study, rows: Sequence[OptionResult]) -> str:
    best = max(rows, key=lambda row: row.chance.value)
    name = "the base study" if best.name is None else best.name
    cases = words.count(rows[0].cases.total)
    said = f"{study.title}: of the base and {len(rows) - 1} options on the same {cases} cases, {name} has the best"
    return f"{said} chance that every requirement is met, {chance_words(best.chance)}."
