"""A study on which changes are tried, again and again, on draws that stay the same.

The draws and what became of the base study are kept, so that an answer costs the flight of the
cases and little else. Every number of it is that of a full run of the changed study from the same
seed, to the bit.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.budget import Workspace, compile_plan
from leadline.errors import RunError
from leadline.risk import binned_quantile
from leadline.risk.given_data import GivenData
from leadline.risk.shifts import FailureSums
from leadline.run.answer import cases_of, chance_of, first_failures, requirement_chance
from leadline.run.answer_words import INTERVAL_CONFIDENCE, chance_words, study_label
from leadline.run.beside import Beside
from leadline.run.first_cases import share_rows
from leadline.run.first_result import ShareRow, ShiftRow
from leadline.run.paired import Flown, Joint
from leadline.run.result import Chance, Difference, HistogramBins
from leadline.run.shifts import shifts_of_any
from leadline.run.summary import BlockSummary, Edges, Shape
from leadline.run.try_changes import Change, changed
from leadline.run.try_result import MarginQuantile, TriedMargin, TriedRequirement, TryResult
from leadline.run.warm_draws import WarmDraws
from leadline.run.work import PILOT_CASES, Prepared
from leadline.sampling import Sampler
from leadline.study import Study

__all__ = ["MOST_CASES", "Trying"]

Array = npt.NDArray[np.float64]

MOST_CASES: Final = 200_000
QUANTILES: Final = (0.05, 0.25, 0.5, 0.75, 0.95)
BINS: Final = 60
MOST_ROWS: Final = 8
RANKED_CASES: Final = 8_192
"""Dispersed numbers are ranked by the first so many cases: enough to tell shares of a hundredth apart."""


@dataclass(frozen=True, slots=True)
class _Flight:
    """A study flown: what each block came to, together, and the margins of the first cases."""

    ready: Prepared
    blocks: tuple[Flown, ...]
    summary: BlockSummary
    first: Array


class Trying:
    """A study with its draws kept warm; safe to use from many threads, one answer at a time.

    Parameters
    ----------
    study
        The base study.
    cases
        How many cases, at most `MOST_CASES`.
    seed
        Which draws: independent ones, as those of a run from this seed.
    stopped
        Asked between blocks; a flight that is stopped raises `RunError`.
    """

    def __init__(
        self, study: Study, cases: int = 100_000, seed: int = 0, *, stopped: Callable[[], bool] | None = None
    ) -> None:
        if not 0 < cases <= MOST_CASES:
            raise ValueError(f"1 to {MOST_CASES} cases can be tried, not {cases}")
        self.study, self.cases, self.seed = study, cases, seed
        self._lock = threading.Lock()
        self._workspaces: dict[int, Workspace] = {}
        self._draws = WarmDraws(study, seed, cases)
        self._pilot = WarmDraws(study, seed, PILOT_CASES, purpose="pilot")
        self._base = self._fly(study, stopped or _never)
        self._before: dict[str, tuple[Chance | None, TriedMargin | None]] = {
            label.name: (requirement_chance(self._base.ready, self._base.summary, at), _margin(self._base, at))
            for at, label in enumerate(self._base.ready.plan.requirements)
        }

    @property
    def nbytes(self) -> int:
        """About how much memory it holds, bytes."""
        flags = sum(len(block.met) + 2 for block in self._base.blocks) * self._draws.block_size
        workspaces = 3 * self._draws.block_size * 8 * (len(self.study.inputs) + 8 * len(self._base.blocks[0].met))
        return self._draws.nbytes + self._pilot.nbytes + flags + workspaces

    def change(self, changes: Sequence[Change], *, stopped: Callable[[], bool] | None = None) -> TryResult:
        """Return what changes do, flown on the same draws as the base.

        Raises
        ------
        StudyError
            A change does not fit; the first step of each issue's path is its position.
        RunError
            Stopped before it was done.
        """
        made = changed(self.study, changes)
        with self._lock:
            flight = self._fly(made.study, stopped or _never) if changes else self._base
            beside, joints = self._beside(flight)
            shares_of, shares, shifts = self._drivers(flight)
        chance, base = _chance(flight), _chance(self._base)
        return TryResult(
            study=study_label(made.study),
            seed=self.seed,
            cases=cases_of(flight.summary),
            chance=chance,
            base=base,
            difference=beside.difference,
            requirements=self._requirements(flight, joints),
            first_failures=first_failures(flight.ready, flight.summary)[:MOST_ROWS],
            shares_of=shares_of,
            shares=shares,
            shifts=shifts,
            values=dict(made.values),
            changed=made.words,
            notes=made.study.notes,
            sentence=_sentence(made.words, chance, beside),
        )

    # ------------------------------------------------------------------ flying

    def _fly(self, study: Study, stopped: Callable[[], bool]) -> _Flight:
        ready = self._ready(study)
        blocks: list[Flown] = []
        first = np.empty((0, 0))
        with closing(self._draws.columns(study)) as drawn:
            for columns in drawn:
                if stopped():
                    raise RunError("stopped before every case was flown")
                outcome = ready.plan.evaluate(columns, self._workspace(columns.shape[1]))
                if not blocks:
                    first = outcome.margins.copy()
                blocks.append(Flown.of(ready, outcome))
        summary = blocks[0].summary
        for block in blocks[1:]:
            summary = summary.merge(block.summary)
        return _Flight(ready, tuple(blocks), summary, first)

    def _ready(self, study: Study) -> Prepared:
        """Make a study ready as a run would, on the pilot's draws kept here."""
        plan = compile_plan(study.mission)
        with closing(self._pilot.columns(study)) as drawn:
            edges = Edges.of(plan.evaluate(next(drawn), self._workspace(PILOT_CASES)).margins)
        sampler = Sampler(study.inputs, study.correlations, seed=self.seed)
        return Prepared(study, plan, sampler, Shape.of(plan), edges, case_s=0.0)

    def _workspace(self, cases: int) -> Workspace:
        return self._workspaces.setdefault(cases, Workspace(cases))

    # ------------------------------------------------------------------ telling

    def _beside(self, flight: _Flight) -> tuple[Beside, dict[str, Joint]]:
        pairs = [here.beside(base) for here, base in zip(flight.blocks, self._base.blocks, strict=True)]
        (whole, parts), *others = pairs
        for joint, by_requirement in others:
            whole = whole.merge(joint)
            parts = {name: part.merge(by_requirement[name]) for name, part in parts.items()}
        return Beside.base(self._base.ready, flight.ready, whole, parts), parts

    def _requirements(self, flight: _Flight, joints: dict[str, Joint]) -> tuple[TriedRequirement, ...]:
        differences: dict[Joint, Difference] = {}  # most requirements end the same in every case
        made = []
        for at, label in enumerate(flight.ready.plan.requirements):
            joint = joints[label.name]
            if joint not in differences:
                differences[joint] = Beside.base(self._base.ready, flight.ready, joint, {}).difference
            made.append(self._requirement(flight, at, differences[joint]))
        return tuple(made)

    def _requirement(self, flight: _Flight, at: int, difference: Difference) -> TriedRequirement:
        label = flight.ready.plan.requirements[at]
        base, base_margin = self._before.get(label.name, (None, None))
        return TriedRequirement(
            name=label.name,
            kind=label.kind,
            unit=label.unit,
            sentence=label.sentence,
            chance=requirement_chance(flight.ready, flight.summary, at),
            base=base,
            difference=difference,
            margin=_margin(flight, at),
            base_margin=base_margin,
        )

    def _drivers(self, flight: _Flight) -> tuple[str | None, tuple[ShareRow, ...], tuple[ShiftRow, ...]]:
        """Rank the dispersed numbers by the first block's cases."""
        if not flight.ready.study.inputs:
            return None, (), ()
        scores = self._draws.scores(flight.ready.study)[:, :RANKED_CASES]
        first = flight.first[:, :RANKED_CASES]
        worst = int(np.argmax(flight.summary.failures))
        label = flight.ready.plan.requirements[worst].name
        shares = share_rows(flight.ready, GivenData.of(scores, first[[worst]]), (label,))
        shifts = shifts_of_any(flight.ready, FailureSums.of(scores, first.min(axis=0, keepdims=True)), MOST_ROWS)
        return label, shares[0].shares, shifts.shifts


def _chance(flight: _Flight) -> Chance:
    return chance_of(flight.ready, flight.summary)


def _margin(flight: _Flight, requirement: int) -> TriedMargin | None:
    summary = flight.summary
    if not summary.valid:
        return None
    binned, bins = summary.binned(requirement), summary.histogram(requirement).coarsen(BINS)
    return TriedMargin(
        quantiles=tuple(
            MarginQuantile(p=p, value=binned_quantile(binned, p, INTERVAL_CONFIDENCE).value) for p in QUANTILES
        ),
        histogram=HistogramBins(
            start=bins.start, width=bins.width, counts=bins.counts, under=bins.under, over=bins.over
        ),
    )


def _sentence(words: Sequence[str], chance: Chance, beside: Beside) -> str:
    said = f"the chance that every requirement is met is {chance_words(chance)}"
    if not words:
        return f"As it is, {said}."
    return f"With {'; '.join(words)}: {said}, {beside.words}."


def _never() -> bool:
    return False
