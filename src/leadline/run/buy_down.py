"""What each dispersed number's change buys: every change flown on the same draws as the base."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from leadline.risk.buy_down import Change, Kind, PairedCounts, buy_down
from leadline.run.answer_words import INTERVAL_CONFIDENCE, as_chance
from leadline.run.answers import BuyDownRow
from leadline.run.dispersed import Dispersed, dispersed_numbers
from leadline.run.endings import succeeded_cases
from leadline.run.executors import Stopped
from leadline.run.summary import BlockSummary
from leadline.run.work import Prepared, Work, fly, fly_block, prepared, sum_up
from leadline.units import humanise

__all__ = ["Bought", "BuyDownTask", "Step", "buy_down_rows", "steps_of_study"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Step:
    """A change of one dispersed number: each of its values v becomes middle + share (v - middle) + move.

    Parameters
    ----------
    change
        What it is called.
    rows
        The number's rows among the inputs.
    middle
        The median of its law.
    share
        How much of its spread is kept.
    move
        How far its nominal is moved.
    """

    change: Change
    rows: tuple[int, ...]
    middle: float
    share: float
    move: float

    def apply(self, columns: Array) -> None:
        """Change the inputs' values (d, n) in place."""
        for row in self.rows:
            values = columns[row]
            if self.share != 1.0:
                values -= self.middle
                values *= self.share
                values += self.middle
            values += self.move


def steps_of_study(numbers: Sequence[Dispersed]) -> tuple[Step, ...]:
    """Return every change that is tried: each spread halved, each number fixed, each nominal moved both ways.

    A nominal moves by one standard deviation of its law, and stays where the law's own kind of
    number lies: what cannot be negative is not moved below zero. What only happens or does not, such
    as an ignition, has no spread to halve; it is fixed at what is likelier.
    """
    return tuple(step for number in numbers for step in _steps(number))


def _steps(number: Dispersed) -> list[Step]:
    place, called, middle, sd = number.place, number.called, number.law.median, number.law.sd
    if number.happens:
        likelier = Change(place, Kind.FIXED, f"fixing {called} at its likelier outcome")
        return [Step(likelier, number.rows, middle, 0.0, 0.0)]
    steps = [
        Step(Change.halved(place, called), number.rows, middle, 0.5, 0.0),
        Step(Change.fixed(place, called), number.rows, middle, 0.0, 0.0),
    ]
    if not number.written or not sd > 0.0:
        return steps
    said = humanise(sd, number.unit)
    steps.append(Step(Change.moved(place, called, f"up by {said}"), number.rows, middle, 1.0, sd))
    low = number.law.support[0]
    if not low >= 0.0 or low > sd:
        steps.append(Step(Change.moved(place, called, f"down by {said}"), number.rows, middle, 1.0, -sd))
    return steps


@dataclass(frozen=True, slots=True)
class Bought:
    """What a range of cases came to: the base's summary, and the paired counts of every change."""

    summary: BlockSummary
    counts: tuple[PairedCounts, ...]

    def merge(self, other: Bought) -> Bought:
        """Add two ranges up, exactly and in any order."""
        counts = zip(self.counts, other.counts, strict=True)
        return Bought(self.summary.merge(other.summary), tuple(a.merge(b) for a, b in counts))


@dataclass(frozen=True, slots=True)
class BuyDownTask:
    """The task of flying a study and every change of it over a range of cases."""

    work: Work

    def __call__(self, cases: range, stopped: Stopped) -> tuple[range, Bought]:
        """Fly the range block by block; see `leadline.run.executors.Task`."""
        ready = prepared(self.work)
        steps = steps_of_study(dispersed_numbers(ready.study))
        size = ready.sampler.block_size
        total: Bought | None = None
        for start in range(cases.start, cases.stop, size):
            if total is not None and stopped():
                return range(cases.start, start), total
            bought = _block(ready, steps, start // size, min(size, cases.stop - start))
            total = bought if total is None else total.merge(bought)
        if total is None:
            raise ValueError(f"no cases to compute in {cases}")
        return cases, total


def _block(ready: Prepared, steps: Sequence[Step], block: int, cases: int) -> Bought:
    columns, outcome = fly_block(ready, block, cases)
    summary, base = sum_up(ready, outcome), succeeded_cases(outcome.margins)
    counts = []
    for step in steps:
        kept = columns[list(step.rows)]
        step.apply(columns)
        counts.append(PairedCounts.of(base, succeeded_cases(fly(ready, columns).margins)))
        columns[list(step.rows)] = kept
    return Bought(summary, tuple(counts))


def buy_down_rows(ready: Prepared, counts: Sequence[PairedCounts]) -> tuple[BuyDownRow, ...]:
    """Return what every change buys, best first; of a nominal moved both ways, the better way only.

    Parameters
    ----------
    ready
        The study made ready.
    counts
        The counts of every change, in the order of `steps_of_study`.
    """
    numbers = dispersed_numbers(ready.study)
    names = {number.place: number.called for number in numbers}
    changes = [step.change for step in steps_of_study(numbers)]
    pairs = _better_way(list(zip(changes, counts, strict=True)))
    return tuple(
        BuyDownRow(
            input=row.change.input,
            called=names[row.change.input],
            change=row.change.words,
            chance=as_chance(row.chance),
            gain=as_chance(row.gain),
            distinguishable=row.distinguishable,
            rank=row.rank,
            sentence=row.sentence[:1].upper() + row.sentence[1:] + ".",
        )
        for row in buy_down(pairs, INTERVAL_CONFIDENCE, replicates=ready.sampler.replicates)
    )


def _better_way(pairs: list[tuple[Change, PairedCounts]]) -> list[tuple[Change, PairedCounts]]:
    """Keep of each number's moves the one after which more cases succeed, the first of equals."""
    best: dict[str, PairedCounts] = {}
    for change, counts in pairs:
        if change.kind is Kind.MOVED and (change.input not in best or counts.changed > best[change.input].changed):
            best[change.input] = counts
    return [pair for pair in pairs if pair[0].kind is not Kind.MOVED or best[pair[0].input] is pair[1]]
