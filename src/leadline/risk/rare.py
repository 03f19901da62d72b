"""Chances of failure down to 1e-9, each estimated twice and counted where counting does as well.

A pilot of independent cases comes first; failures that it meets often enough are settled there. For each of the others,
subset simulation (`leadline.risk.rare_subset`) and importance sampling (`leadline.risk.rare_importance`) give two
estimates with a coefficient of variation each, taken from independent replicates. If they lie further apart than three
of their combined standard deviations, or the pilot's count is past belief under them, that is said and nothing is
quoted; they are never averaged. If they agree, the one that is stated more precisely is quoted, unless brute force with
as many model calls is as precise: then it is run and quoted.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from leadline.risk.proportion import require_confidence
from leadline.risk.rare_answer import (
    Pilot,
    RareAnswer,
    RareEstimate,
    RareMethod,
    RareState,
    counted,
    needed_cases,
    said,
)
from leadline.risk.rare_model import Array, Event, Margins, Model, Stopped, in_pieces, stream
from leadline.risk.rare_search import Finding, Search

__all__ = ["SYSTEM", "Margins", "RareAnswer", "RareEstimate", "RareMethod", "RareState", "rare_failures"]

SYSTEM: Final = "the system"
"""Label of the first answer: any requirement missed."""

PILOT_CASES: Final = 2**17
"""A chance of 1e-3 is counted to 9 % in so many cases."""

COMMON: Final = 0.02
"""From this chance on counting is always the better way, so that the pilot is prolonged if need be."""

FAR: Final = 10.0
"""Distance given to a margin that is the same in all pilot cases: far, yet a failure if ever it is negative."""

_PILOT: Final = 0


def rare_failures(
    margins: Margins,
    dimensions: int,
    labels: Sequence[str],
    *,
    seed: int,
    target_variation: float = 0.1,
    max_calls: int = 10_000_000,
    confidence: float = 0.95,
    progress: Callable[[str, int], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> tuple[RareAnswer, ...]:
    """Find how likely each requirement, and any of them, is missed.

    Parameters
    ----------
    margins
        Independent standard normal scores (d, n) to margins (r, n). A case fails a requirement where its margin is
        negative. Margins should approach 0 continuously; steps and flat parts are coped with where a level can be
        found between them. A case with a margin that is not finite is invalid: it counts as a failure of nothing, and
        chains do not move there, so chances are of valid failing cases among all cases. The function must leave the
        scores as they are and may return a view that its next call overwrites.
    dimensions
        Number of scores d.
    labels
        Names of the requirements, in the order of the rows.
    seed
        Non-negative; the answers follow from it alone, not from threads or earlier calls.
    target_variation
        Coefficient of variation to reach; replicates are added until it is.
    max_calls
        Model calls allowed for the pilot, and again for each answer. The least a method can do (the pilot of 131 072
        cases, one scout and one batch of replicates each, some 500 000 calls for 1e-9) is done in any event.
    confidence
        Of the intervals, two-sided.
    progress
        Told what is in work and the model calls made so far, now and then.
    cancelled
        Asked before every call of the model; answers not ready when it says so are marked as stopped.

    Returns
    -------
    The system's answer, then one for each requirement.

    Raises
    ------
    ValueError
        If an argument is impossible, or the margins have the wrong shape.
    """
    require_confidence(confidence)
    _require(dimensions, labels, seed, target_variation, max_calls)
    ask = _Ask(dimensions, tuple(labels), seed, target_variation, max_calls, confidence)
    return ask.answers(Model(margins, len(labels), progress, cancelled))


def _require(dimensions: int, labels: Sequence[str], seed: int, target: float, max_calls: int) -> None:
    if not dimensions >= 1:
        raise ValueError(f"there must be at least one score, not {dimensions!r}")
    if not labels:
        raise ValueError("there must be at least one requirement")
    if not seed >= 0:
        raise ValueError(f"seed must be a non-negative integer, not {seed!r}")
    if not 0.0 < target < 1.0:
        raise ValueError(f"the coefficient of variation to reach must lie between 0 and 1, not {target!r}")
    if not max_calls > 0:
        raise ValueError(f"at least one model call must be allowed, not {max_calls!r}")


@dataclass(frozen=True, slots=True)
class _Ask:
    dimensions: int
    labels: tuple[str, ...]
    seed: int
    target: float
    max_calls: int
    confidence: float

    def answers(self, model: Model) -> tuple[RareAnswer, ...]:
        try:
            events, pilots = self._pilot(model)
        except Stopped:
            return tuple(_stopped(label) for label in (SYSTEM, *self.labels))
        if len(self.labels) > 1:
            return tuple(self._answer(model, *found) for found in zip(events, pilots, strict=True))
        # With one requirement the two are the same failure, so the same search answers for both.
        only = self._answer(model, events[1], pilots[1])
        return (replace(only, label=SYSTEM, sentence=SYSTEM + only.sentence.removeprefix(only.label)), only)

    def _pilot(self, model: Model) -> tuple[tuple[Event, ...], tuple[Pilot, ...]]:
        """Fly the pilot; it goes on until common failures are counted precisely enough."""
        generator = stream(self.seed, _PILOT)

        def fly(cases: int) -> list[Array]:
            sizes = in_pieces(cases)
            return [np.array(model(generator.standard_normal((self.dimensions, size)))) for size in sizes]

        first = np.concatenate(fly(PILOT_CASES), axis=1)
        events = _events(self.labels, first)
        pilots = tuple(_counts(event, first) for event in events)
        common = [needed_cases(pilot.share, self.target) for pilot in pilots if pilot.share >= COMMON]
        further = min(math.ceil(max(common, default=0.0)), self.max_calls) - PILOT_CASES
        for size in in_pieces(max(further, 0)):
            (more,) = fly(size)
            pilots = tuple(_added(pilot, _counts(event, more)) for pilot, event in zip(pilots, events, strict=True))
        return events, pilots

    def _answer(self, model: Model, event: Event, pilot: Pilot) -> RareAnswer:
        model.label, calls, invalid = event.label, model.calls, model.invalid
        try:
            finding = self._finding(model, event, pilot)
        except Stopped:
            return _stopped(event.label)
        return RareAnswer(
            event.label,
            finding.quoted,
            finding.estimates,
            finding.state,
            f"{event.label}: {finding.sentence}.",
            model.calls - calls,
            pilot.invalid + model.invalid - invalid,
        )

    def _finding(self, model: Model, event: Event, pilot: Pilot) -> Finding:
        if pilot.invalid == pilot.cases:
            return Finding(RareState.NO_VALID_CASE, "every pilot case had a margin that is not finite")
        if pilot.share >= COMMON or needed_cases(pilot.share, self.target) <= pilot.cases:
            estimate = counted(pilot.failures, pilot.cases, self.confidence)
            return Finding(RareState.COUNTED, said(estimate), estimate, (estimate,))
        watch = model.watch(event)
        return Search(
            watch, self.dimensions, event.place, pilot, self.seed, self.target, self.max_calls, self.confidence
        ).run()


def _events(labels: tuple[str, ...], margins: Array) -> tuple[Event, ...]:
    """Return the system and each requirement, with distances scaled by what the pilot's margins (r, n) vary by."""
    valid = margins[:, np.isfinite(margins).all(axis=0)]
    if valid.shape[1] == 0:
        valid = np.ones((len(labels), 1))
    scales = [_scale(row) for row in valid]
    # A margin of 0 in all cases is no failure and no distance either: it would hide the other requirements.
    rows = [row for row, values in enumerate(valid) if values.any()] or [0]
    whole = Event(0, SYSTEM, tuple(rows), tuple(scales[row] for row in rows))
    alone = [Event(row + 1, label, (row,), (scales[row],)) for row, label in enumerate(labels)]
    return (whole, *alone)


def _scale(values: Array) -> float:
    """Return the standard deviation of a margin, or what puts it far away where it does not vary."""
    if float(np.ptp(values)) > 0.0:
        return float(values.std())
    return abs(float(values[0])) / FAR or 1.0


def _counts(event: Event, margins: Array) -> Pilot:
    distances = event.distance(margins)
    failures, invalid = np.count_nonzero(distances < 0.0), np.count_nonzero(distances == np.inf)
    return Pilot(int(failures), distances.size, int(invalid))


def _added(first: Pilot, second: Pilot) -> Pilot:
    return Pilot(first.failures + second.failures, first.cases + second.cases, first.invalid + second.invalid)


def _stopped(label: str) -> RareAnswer:
    return RareAnswer(label, None, (), RareState.STOPPED, f"{label}: stopped before an answer was ready.", 0, 0)
