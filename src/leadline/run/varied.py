"""A study with one or two of its numbers set to other values, flown on the same draws."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.budget import Plan, Workspace, compile_plan
from leadline.errors import Issue, StudyError
from leadline.risk.sizing import Counts
from leadline.run.dispersed import Dispersed, called, dispersed_numbers
from leadline.run.endings import succeeded_cases, valid_cases
from leadline.run.units_of_inputs import found_at
from leadline.sampling import Sampler
from leadline.study import Study
from leadline.study.paths import full_path
from leadline.units import DIMENSIONS, FRACTION, QuantityError, humanise, parse_quantity

__all__ = ["Knob", "Varied", "checked_value", "knob_of"]

Array = npt.NDArray[np.float64]

NOT_WHOLE: Final = "not-whole"
"""How a study's refusal of a broken number is marked."""
DRAWS_KEPT_BYTES: Final = 256_000_000
"""Draws are kept from one value to the next up to this size, else drawn again."""


@dataclass(frozen=True, slots=True)
class Knob:
    """A number of the study that is set to other values.

    Parameters
    ----------
    place
        Its place, written in full.
    called
        What it is called in a sentence.
    unit
        Its SI unit; empty for a plain number.
    nominal
        Its value in the study; the median of its law where it has one.
    whole
        Whether only whole numbers make sense.
    dispersed
        The number's law and rows, where it has one: its values are then moved along with the nominal.
    """

    place: str
    called: str
    unit: str
    nominal: float
    whole: bool
    dispersed: Dispersed | None

    def words(self, value: float) -> str:
        """Write a value with its unit."""
        return humanise(value, self.unit, 4)

    def read(self, text: str) -> float:
        """Read a value written with its unit.

        Raises
        ------
        QuantityError
            With what to write instead.
        """
        dimension = next((d for d in DIMENSIONS if d.si == self.unit and d.si), FRACTION)
        return parse_quantity(text, dimension)


def knob_of(study: Study, place: str) -> Knob:
    """Find the number at a place of a study.

    Raises
    ------
    StudyError
        If no number stands there.
    """
    full = full_path(place)
    dispersed = next((each for each in dispersed_numbers(study) if each.place == full and each.written), None)
    if dispersed is not None:
        return Knob(full, dispersed.called, dispersed.unit, dispersed.law.median, whole=False, dispersed=dispersed)
    found = _found(study, full)
    if isinstance(found, bool) or not isinstance(found, str | int | float):
        raise _no_number(place)
    if not isinstance(found, str):
        return Knob(full, called(full), "", float(found), whole=_is_whole(study, full, found), dispersed=None)
    number, _, unit = found.partition(" ")
    try:
        return Knob(full, called(full), unit, float(number), whole=False, dispersed=None)
    except ValueError:
        raise _no_number(place) from None


def _is_whole(study: Study, place: str, number: float) -> bool:
    """Tell whether only whole numbers make sense at a place: the study then refuses the half above."""
    if isinstance(number, int) or not float(number).is_integer():
        return isinstance(number, int)
    try:
        study.with_values({place: f"{number + 0.5!r}"})
    except StudyError as error:
        return any(issue.code == NOT_WHOLE for issue in error.issues)
    return False


def _found(study: Study, place: str) -> object:
    try:
        return found_at(study.resolved(), place)
    except (KeyError, StopIteration, TypeError):
        return None


def _no_number(place: str) -> StudyError:
    remedy = "Name a number that stands in the study, such as vehicle.ferry.tanks.main.load."
    return StudyError([Issue((place,), f"There is no number at {place}.", remedy, "no-number")])


@dataclass(slots=True)
class Varied:
    """Flies a study for given values of its knobs, on draws that stay the same.

    Parameters
    ----------
    study
        The study as it stands.
    knobs
        One or two numbers of it.
    cases, seed
        How many cases, from which draws.
    """

    study: Study
    knobs: Sequence[Knob]
    cases: int
    seed: int
    _draws: dict[tuple[str, ...], list[Array]] = field(default_factory=dict)
    _workspaces: dict[int, Workspace] = field(default_factory=dict)

    def counts(self, values: Sequence[float]) -> Counts:
        """Count how the cases end for a value of each knob.

        Raises
        ------
        StudyError
            If the study does not take a value.
        """
        study = self._set(values)
        plan = compile_plan(study.mission)
        total = np.zeros((2, len(plan.requirements)), dtype=np.int64)
        succeeded = invalid = 0
        for columns in self._blocks(study):
            margins = self._fly(plan, self._moved(columns, values))
            valid, met = valid_cases(margins), succeeded_cases(margins)
            failed = (margins < 0.0) & valid
            total[0] += np.count_nonzero(failed, axis=1)
            total[1] += np.count_nonzero(failed[:, failed.sum(axis=0) == 1], axis=1)
            succeeded += int(np.count_nonzero(met))
            invalid += int(np.count_nonzero(~valid))
        return Counts(self.cases, succeeded, invalid, total[0], total[1])

    def _set(self, values: Sequence[float]) -> Study:
        fixed = {
            knob.place: f"{value:.0f}" if knob.whole else f"{value!r} {knob.unit}".strip()
            for knob, value in zip(self.knobs, values, strict=True)
            if knob.dispersed is None
        }
        return self.study.with_values(fixed) if fixed else self.study

    def _moved(self, columns: Array, values: Sequence[float]) -> Array:
        moves = [
            (row, value - knob.nominal)
            for knob, value in zip(self.knobs, values, strict=True)
            if knob.dispersed is not None
            for row in knob.dispersed.rows
        ]
        if not moves:
            return columns
        moved = columns.copy()
        for row, by in moves:
            moved[row] += by
        return moved

    def _blocks(self, study: Study) -> list[Array]:
        """Return the draws, block by block; those of the same inputs are drawn once."""
        names = tuple(given.name for given in study.inputs)
        if names in self._draws:
            return self._draws[names]
        sampler = Sampler(study.inputs, study.correlations, seed=self.seed)
        size = sampler.block_size
        drawn = [
            np.ascontiguousarray(sampler.draw(start // size)[:, : self.cases - start])
            for start in range(0, self.cases, size)
        ]
        if sum(block.nbytes for block in drawn) <= DRAWS_KEPT_BYTES:
            self._draws[names] = drawn
        return drawn

    def _fly(self, plan: Plan, columns: Array) -> Array:
        cases = columns.shape[1]
        return plan.evaluate(columns, self._workspaces.setdefault(cases, Workspace(cases))).margins


def checked_value(knob: Knob, text: str) -> float:
    """Read a value of a knob.

    Raises
    ------
    StudyError
        With what to write instead.
    """
    try:
        return knob.read(text)
    except QuantityError as error:
        raise StudyError([Issue((knob.place,), error.message, error.remedy, error.code)]) from error
