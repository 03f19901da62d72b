"""How the dispersed numbers of failing cases differ, as a document."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from leadline.risk.shifts import FailureSums, InputShift, OutputShifts
from leadline.run.answer_words import INTERVAL_CONFIDENCE, as_chance
from leadline.run.dispersed import called, place_of
from leadline.run.first_result import ShiftRow, ShiftsOf
from leadline.run.work import Prepared

__all__ = ["WHOLE", "called_draw", "shifts_of", "shifts_of_any"]

WHOLE: Final = "any requirement"
"""What failing one requirement or more is called."""


def shifts_of(ready: Prepared, sums: FailureSums, most: int | None = None) -> tuple[ShiftsOf, ...]:
    """Return the shifts for every requirement and for failing any.

    Parameters
    ----------
    ready
        The study made ready.
    sums
        What its cases came to.
    most
        Largest shifts kept of each; all when None.
    """
    names = [given.name for given in ready.study.inputs]
    labels = [label.name for label in ready.plan.requirements]
    found = sums.shifts(names, labels, INTERVAL_CONFIDENCE, whole=WHOLE, independent=not ready.sampler.replicates)
    calls = {name: called_draw(name) for name in names}
    return tuple(_shifts_of(one, calls, most) for one in found)


def shifts_of_any(ready: Prepared, sums: FailureSums, most: int | None = None) -> ShiftsOf:
    """Return the shifts for failing any requirement, from sums over each case's least margin alone."""
    names = [given.name for given in ready.study.inputs]
    independent = not ready.sampler.replicates
    found = sums.shifts(names, [""], INTERVAL_CONFIDENCE, whole=WHOLE, independent=independent)[-1]
    return _shifts_of(found, {name: called_draw(name) for name in names}, most)


def called_draw(name: str) -> str:
    """Return what one draw of a number is called, such as "the delivered of fill, draw 2"."""
    place, drawn, number = name.partition("#")
    return f"{called(place_of(place))}, draw {number}" if drawn else called(place)


def _shifts_of(found: OutputShifts, calls: Mapping[str, str], most: int | None) -> ShiftsOf:
    return ShiftsOf(
        output=found.label,
        failures=found.failures,
        cases=found.cases,
        shifts=tuple(_row(each, calls) for each in found.shifts[:most]),
        reason=found.reason,
    )


def _row(found: InputShift, calls: Mapping[str, str]) -> ShiftRow:
    return ShiftRow(
        input=found.input,
        called=calls[found.input],
        direction=found.direction,
        shift=as_chance(found.shift),
        probability=as_chance(found.probability),
        distinguishable=found.distinguishable,
    )
