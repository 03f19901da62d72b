"""The chance over one or two numbers of a study, as a document."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.errors import Issue, RunError, StudyError
from leadline.risk.sweep import Axis, Sweep
from leadline.run.answer_words import study_label
from leadline.run.answers import SweepAxis, SweepResult
from leadline.run.engine import Control
from leadline.run.limits import limits_of
from leadline.run.sizing import Counting, asked_of, number_label, told_counts
from leadline.run.varied import Knob, Varied, checked_value, knob_of
from leadline.study import Study

__all__ = ["MOST_POINTS", "SweepRange", "SweepRequest", "sweep_numbers"]

Integers = npt.NDArray[np.int64]

MOST_POINTS: Final = 2_500
"""Combinations of values tried at most."""
LEAST_VALUES: Final = 2
"""Fewer make no line."""


@dataclass(frozen=True, slots=True)
class SweepRange:
    """A number's place, the ends of its range as texts with units, and how many values are tried."""

    place: str
    low: str
    high: str
    steps: int = 11


@dataclass(frozen=True, slots=True)
class SweepRequest:
    """Which numbers, for which chance; see `leadline.run.sizing.SizingRequest`."""

    ranges: Sequence[SweepRange]
    chance: float | None = None
    confidence: float | None = None
    cases: int = 20_000
    seed: int = 0


def sweep_numbers(study: Study, request: SweepRequest, control: Control | None = None) -> SweepResult:
    """Find the chance over one or two numbers, on the same draws.

    Parameters
    ----------
    study
        The study, with its option and values already replaced.
    request
        Which numbers over which ranges.
    control
        What to tell and ask meanwhile.

    Raises
    ------
    StudyError
        There is no such number, a range is impossible, or the study does not take a value.
    RunError
        Stopped before two values of the first number were done; stopped later, the sweep ends there.
    ValueError
        Neither one nor two ranges are given.
    """
    if len(request.ranges) not in {1, 2}:
        raise ValueError(f"a sweep is over one or two numbers, not {len(request.ranges)}")
    control = control or Control()
    knobs = tuple(knob_of(study, each.place) for each in request.ranges)
    axes = [_axis(knob, each) for knob, each in zip(knobs, request.ranges, strict=True)]
    _require(knobs, axes)
    varied = Varied(study, knobs, request.cases, request.seed)
    points = int(np.prod([axis.values.size for axis in axes]))
    tell = told_counts(varied.counts, control, points * request.cases)
    done, counts = _count(axes, tell)
    chance, confidence = asked_of(study, request.chance, request.confidence)
    found = Sweep.of(done, counts, request.cases, chance, confidence)
    return _document(study, knobs, request, found, partial=done[0].values.size < axes[0].values.size)


def _count(axes: Sequence[Axis], tell: Counting) -> tuple[list[Axis], Integers]:
    """Count the successes at every combination, or up to the last value of the first axis that was done."""
    others = list(itertools.product(*(axis.values.tolist() for axis in axes[1:])))
    rows: list[list[int]] = []
    for value in axes[0].values.tolist():
        try:
            rows.append([tell((value, *rest)).succeeded for rest in others])
        except RunError:  # stopped
            if len(rows) < LEAST_VALUES:
                raise
            break
    first = Axis(axes[0].name, axes[0].values[: len(rows)], axes[0].words)
    shape = tuple(axis.values.size for axis in (first, *axes[1:]))
    return [first, *axes[1:]], np.array(rows, dtype=np.int64).reshape(shape)


def _axis(knob: Knob, given: SweepRange) -> Axis:
    low, high = checked_value(knob, given.low), checked_value(knob, given.high)
    values = np.linspace(low, high, given.steps)
    if knob.whole:
        values = np.unique(np.rint(values))
    if not low < high or values.size < 2:
        message = f"The range from {knob.words(low)} to {knob.words(high)} holds less than two values."
        raise StudyError([Issue((knob.place,), message, "Write the smaller value first, two steps or more.", "range")])
    return Axis(knob.called, values, knob.words)


def _require(knobs: Sequence[Knob], axes: Sequence[Axis]) -> None:
    points = int(np.prod([axis.values.size for axis in axes]))
    place = (knobs[0].place,)
    if len({knob.place for knob in knobs}) < len(knobs):
        raise StudyError([Issue(place, "The two numbers are one.", "Name two numbers.", "twice")])
    if points > MOST_POINTS:
        message = f"{points} combinations of values are too many."
        raise StudyError([Issue(place, message, f"Keep them within {MOST_POINTS}.", "too-large")])


def _document(
    study: Study, knobs: Sequence[Knob], request: SweepRequest, found: Sweep, *, partial: bool
) -> SweepResult:
    return SweepResult(
        study=study_label(study),
        seed=request.seed,
        partial=partial,
        cases=found.cases,
        asked=found.asked,
        confidence=found.confidence,
        axes=tuple(
            SweepAxis(number=number_label(knob), values=tuple(axis.values.tolist()))
            for knob, axis in zip(knobs, found.axes, strict=True)
        ),
        succeeded=tuple(found.succeeded.ravel().tolist()),
        low=tuple(found.low.ravel().tolist()),
        high=tuple(found.high.ravel().tolist()),
        likely=tuple(tuple(map(tuple, line.tolist())) for line in found.likely),
        shown=tuple(tuple(map(tuple, line.tolist())) for line in found.shown),
        notes=study.notes,
        limits=limits_of(study),
        sentence=f"{study.title}: {found.sentence}",
    )
