"""The value of one number that gives the wanted chance, as a document."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from leadline.errors import Issue, RunError, StudyError
from leadline.risk.proportion import exact_lower_bound, exact_upper_bound
from leadline.risk.sizing import Counts, Prefer, Question, Sizing, Wording, size
from leadline.run.answer_words import as_chance, study_label
from leadline.run.answers import Cap, NumberLabel, SizingPoint, SizingResult
from leadline.run.engine import Control, Progress
from leadline.run.limits import limits_of
from leadline.run.varied import Knob, Varied, checked_value, knob_of
from leadline.study import Study

__all__ = [
    "DEFAULT_CHANCE",
    "DEFAULT_CONFIDENCE",
    "Counting",
    "SizingRequest",
    "asked_of",
    "number_label",
    "size_number",
    "told_counts",
]

Counting = Callable[[Sequence[float]], Counts]
"""Counts how the cases end for a value of each number."""

DEFAULT_CHANCE: Final = 0.95
DEFAULT_CONFIDENCE: Final = 0.9
"""What is asked where neither the study nor the request says."""

REACH: Final = (0.5, 1.5)
"""The range looked at where none is given, as shares of the nominal."""


@dataclass(frozen=True, slots=True)
class SizingRequest:
    """Which number, over which range, for which chance.

    Parameters
    ----------
    place
        The number's place in the study.
    low, high
        The range, each a text with its unit; half to one and a half times the nominal when None.
    chance, confidence
        What is wanted; what the study asks for when None, else 95 % with 90 % confidence.
    prefer
        Whether the smallest or the largest value that gives it is the answer.
    cases, seed
        How many cases, from which draws.
    """

    place: str
    low: str | None = None
    high: str | None = None
    chance: float | None = None
    confidence: float | None = None
    prefer: Prefer = Prefer.SMALLEST
    cases: int = 100_000
    seed: int = 0


def asked_of(study: Study, chance: float | None, confidence: float | None) -> tuple[float, float]:
    """Return the chance and the confidence that are wanted."""
    ask = study.ask
    default = (DEFAULT_CHANCE, DEFAULT_CONFIDENCE) if ask is None else (ask.chance, ask.confidence)
    return (default[0] if chance is None else chance, default[1] if confidence is None else confidence)


def number_label(knob: Knob) -> NumberLabel:
    """Return which number it is."""
    return NumberLabel(place=knob.place, called=knob.called, unit=knob.unit)


def size_number(study: Study, request: SizingRequest, control: Control | None = None) -> SizingResult:
    """Find the value of one number for which the wanted chance is shown.

    Parameters
    ----------
    study
        The study, with its option and values already replaced.
    request
        Which number, over which range, for which chance.
    control
        What to tell and ask meanwhile: told the cases flown, asked between two values.

    Raises
    ------
    StudyError
        There is no such number, or the study does not take a value of the range.
    RunError
        Stopped before the answer was found.
    """
    control = control or Control()
    knob = knob_of(study, request.place)
    chance, confidence = asked_of(study, request.chance, request.confidence)
    question = Question(*_range(knob, request), chance, confidence, whole=knob.whole, prefer=request.prefer)
    varied = Varied(study, (knob,), request.cases, request.seed)
    tell = told_counts(varied.counts, control, question.budget * request.cases)
    names = [requirement.name for requirement in study.mission.requirements]
    return _document(
        study, knob, request, size(lambda value: tell((value,)), question, Wording(knob.called, knob.words, names))
    )


def _range(knob: Knob, request: SizingRequest) -> tuple[float, float]:
    low = REACH[0] * knob.nominal if request.low is None else checked_value(knob, request.low)
    high = REACH[1] * knob.nominal if request.high is None else checked_value(knob, request.high)
    if not low < high:
        message = f"The range from {knob.words(low)} to {knob.words(high)} has no length."
        raise StudyError([Issue((knob.place,), message, "Write the smaller value first.", "range")])
    return low, high


def told_counts(counts: Counting, control: Control, wanted: int) -> Counting:
    """Return the same function, told of and stopped as a run is."""
    began, flown = time.monotonic(), 0

    def told(values: Sequence[float]) -> Counts:
        nonlocal flown
        if control.stopped():
            raise RunError("stopped before the answer was found")
        found = counts(values)
        flown += found.cases
        elapsed = time.monotonic() - began
        control.progress(Progress(flown, wanted, elapsed, flown / max(elapsed, 1e-9), None, None))
        return found

    return told


def _document(study: Study, knob: Knob, request: SizingRequest, found: Sizing) -> SizingResult:
    names = [requirement.name for requirement in study.mission.requirements]
    below, above = (None if at is None else names[at] for at in found.limits)
    return SizingResult(
        study=study_label(study),
        seed=request.seed,
        number=number_label(knob),
        low=found.question.low,
        high=found.question.high,
        whole=knob.whole,
        asked=found.question.chance,
        confidence=found.question.confidence,
        met=found.met,
        answer=found.answer,
        best=found.best,
        chance=as_chance(found.chance),
        likely=found.likely,
        at_best=found.at_best,
        resolution=found.resolution,
        limited_below=below,
        limited_above=above,
        cap=_cap(found, names),
        points=tuple(_point(value, counts, names, found.question.confidence) for value, counts in found.points),
        notes=study.notes,
        limits=limits_of(study),
        sentence=f"{study.title}: {found.sentence}",
    )


def _cap(found: Sizing, names: list[str]) -> Cap | None:
    if found.cap is None:
        return None
    return Cap(
        requirement=names[found.cap.requirement],
        failures=found.cap.failures,
        chance_without=as_chance(found.cap.chance_without),
    )


def _point(value: float, counts: Counts, names: list[str], confidence: float) -> SizingPoint:
    failures = zip(names, counts.failures_by_requirement.tolist(), strict=True)
    return SizingPoint(
        value=value,
        cases=counts.cases,
        succeeded=counts.succeeded,
        invalid=counts.invalid,
        low=exact_lower_bound(counts.succeeded, counts.cases, confidence),
        high=exact_upper_bound(counts.succeeded, counts.cases, confidence),
        failures={name: failed for name, failed in failures if failed},
    )
