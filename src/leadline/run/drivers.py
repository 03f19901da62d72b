"""What drives the risk of a study: indices, shifts in failing cases, and what each change buys."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.errors import RunError
from leadline.risk.drivers import Drivers, OutputDrivers, find_drivers
from leadline.risk.shifts import FailureSums
from leadline.run.answer import chance_of
from leadline.run.answer_words import INTERVAL_CONFIDENCE, as_chance, chance_words, study_label
from leadline.run.answers import BuyDownRow, DriverRow, DriversOf, DriversResult
from leadline.run.blocks import lay_out
from leadline.run.buy_down import Bought, BuyDownTask, buy_down_rows
from leadline.run.engine import Control, Request, RunClock
from leadline.run.executors import Executor, InProcess
from leadline.run.first_result import ShiftsOf
from leadline.run.gather import Gathering
from leadline.run.grouped import grouped_numbers
from leadline.run.limits import limits_of
from leadline.run.shapley import shapley_of
from leadline.run.shifts import WHOLE, shifts_of
from leadline.run.work import Prepared, Work, fly, prepared
from leadline.sampling import Sampler
from leadline.study import Study

__all__ = ["DEFAULT_PAIRS", "Extent", "drivers"]

Array = npt.NDArray[np.float64]

DEFAULT_PAIRS: Final = 16_384
HALVING: Final = "halving the spread"
"""How the changes that the sentence speaks of begin."""
SHIFT_CASES: Final = 131_072
"""Shifts are taken from at most so many cases, the first of the run."""


@dataclass(frozen=True, slots=True)
class Extent:
    """How much is computed.

    Parameters
    ----------
    pairs
        Pairs of cases behind the indices; whole pages of 16 384 are computed.
    cases
        Cases behind what each change buys.
    seed
        Which draws.
    shapley
        Whether Shapley effects are wanted, which take dependence apart where indices cannot.
    """

    pairs: int = DEFAULT_PAIRS
    cases: int = 100_000
    seed: int = 0
    shapley: bool = False

    def __post_init__(self) -> None:
        if not self.pairs >= 1 or not self.cases >= 1:
            raise ValueError(f"pairs and cases must be at least 1, not {self.pairs} and {self.cases}")


def drivers(
    study: Study, extent: Extent, executor: Executor | None = None, control: Control | None = None
) -> DriversResult:
    """Find what drives the risk of a study.

    Parameters
    ----------
    study
        The study, with its option and values already replaced.
    extent
        How much is computed, from which draws.
    executor
        Who flies the changes; the calling thread when None. Indices are always found in the calling thread.
    control
        What to tell and ask meanwhile.

    Raises
    ------
    RunError
        Stopped before anything was finished, or workers or scheduler were lost.
    """
    control = control or Control()
    request = Request(extent.cases, extent.seed)
    work = Work.of(study, request.seed, request.design)
    ready = prepared(work)
    bought, done = _buy(work, ready, extent, executor, control)
    found = _indices(ready, extent, control)
    shifts, shift_cases = _shifts(ready, extent)
    rows = buy_down_rows(ready, bought.counts)
    return DriversResult(
        study=study_label(study),
        seed=extent.seed,
        partial=not done or control.stopped(),
        chance=chance_of(ready, bought.summary),
        cases=found.cases,
        evaluations=found.evaluations,
        outputs=_outputs(ready, found),
        shift_cases=shift_cases,
        shifts=shifts,
        shapley=shapley_of(ready, extent.pairs, extent.seed, control.stopped) if extent.shapley else (),
        buy_down_cases=bought.summary.cases,
        buy_down=rows,
        notes=(*study.notes, *found.notes, *_dependence_notes(study)),
        limits=limits_of(study),
        sentence=_sentence(ready, bought, rows),
    )


def _buy(
    work: Work, ready: Prepared, extent: Extent, executor: Executor | None, control: Control
) -> tuple[Bought, bool]:
    size = ready.sampler.block_size
    layout = lay_out(extent.cases, size, cut=True)
    block_s = size * ready.case_s * (1 + 3 * len(ready.study.inputs))
    gathering = Gathering[Bought](BuyDownTask(work), layout, executor or InProcess(), block_s)
    clock = RunClock(layout.cases)

    def tell() -> None:
        if gathering.total is not None:
            control.progress(clock.progress(ready, gathering.total.summary))

    done = gathering.up_to_end(control.stopped, tell)
    if gathering.total is None:
        raise RunError("stopped before the first block of cases was finished; nothing to report")
    return gathering.total, done


def _indices(ready: Prepared, extent: Extent, control: Control) -> Drivers:
    groups = grouped_numbers(ready.study)
    return find_drivers(
        lambda columns: fly(ready, columns).margins,
        _pages(ready, extent, control.stopped),
        inputs=[group.name for group in groups],
        requirements=[label.name for label in ready.plan.requirements],
        groups=[group.rows for group in groups],
        whole=WHOLE,
        confidence=INTERVAL_CONFIDENCE,
    )


def _pages(ready: Prepared, extent: Extent, stopped: Callable[[], bool]) -> Iterator[tuple[Array, Array]]:
    """Draw two independent samples page by page, at least one page.

    They are values, not scores: groups are independent of one another, so exchanging a group's
    values is exchanging its scores.
    """
    study = ready.study
    first, second = (
        Sampler(study.inputs, study.correlations, seed=extent.seed, purpose=f"drivers {side}") for side in "ab"
    )
    for page in range(-(-extent.pairs // first.block_size)):
        if page and stopped():
            return
        yield first.draw(page), second.draw(page)


def _shifts(ready: Prepared, extent: Extent) -> tuple[tuple[ShiftsOf, ...], int]:
    """Return the shifts over the first cases of the run, block by block in their order."""
    sampler = ready.sampler
    wanted = min(extent.cases, SHIFT_CASES)
    total: FailureSums | None = None
    for start in range(0, wanted, sampler.block_size):
        scores = sampler.scores(start // sampler.block_size)[:, : wanted - start]
        sums = FailureSums.of(scores, fly(ready, sampler.apply_laws(scores)).margins)
        total = sums if total is None else total.merge(sums)
    if total is None:
        raise ValueError("no cases to find shifts in")
    return shifts_of(ready, total), wanted


def _outputs(ready: Prepared, found: Drivers) -> tuple[DriversOf, ...]:
    calls = {group.name: group.called for group in grouped_numbers(ready.study)}
    return tuple(_drivers_of(one, calls) for one in found.outputs)


def _drivers_of(found: OutputDrivers, calls: Mapping[str, str]) -> DriversOf:
    rows = tuple(
        DriverRow(
            input=each.name,
            called=calls[each.name],
            first=as_chance(each.first),
            total=as_chance(each.total),
            rank=each.rank,
            distinguishable=each.distinguishable,
            remark=each.remark,
        )
        for each in found.drivers
    )
    return DriversOf(
        output=found.output, kind=found.kind.value, drivers=rows, failures=found.failures, reason=found.reason
    )


def _dependence_notes(study: Study) -> list[str]:
    tied = [group.called for group in grouped_numbers(study) if len(group.numbers) > 1]
    return [
        f"{called[:1].upper()}{called[1:]} depend on one another through rank correlations, so the indices take them"
        " as one; Shapley effects take them apart."
        for called in tied
    ]


def _sentence(ready: Prepared, bought: Bought, rows: Sequence[BuyDownRow]) -> str:
    chance = chance_words(chance_of(ready, bought.summary))
    said = f"{ready.study.title}: the chance that every requirement is met is {chance}"
    spread = [row for row in rows if row.distinguishable and row.gain.value > 0 and row.change.startswith(HALVING)]
    if not spread:
        return f"{said}; halving no single spread makes a difference that can be told."
    return f"{said}; {spread[0].sentence[0].lower()}{spread[0].sentence[1:]}"
