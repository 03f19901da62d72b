"""Dispersed numbers that depend on one another, taken as one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from leadline.run.dispersed import Dispersed, dispersed_numbers
from leadline.sampling.dependence import groups_of
from leadline.study import Study

__all__ = ["Grouped", "grouped_numbers"]


@dataclass(frozen=True, slots=True)
class Grouped:
    """Numbers that depend on one another, taken as one: their rows, and what they are called together."""

    name: str
    called: str
    rows: tuple[int, ...]
    numbers: tuple[Dispersed, ...] = field(repr=False)


def grouped_numbers(study: Study) -> tuple[Grouped, ...]:
    """Return the dispersed numbers, those tied by rank correlations together, in the order of the inputs."""
    numbers = dispersed_numbers(study)
    ties = [set(group.rows) for group in groups_of([each.name for each in study.inputs], study.correlations)]
    groups: list[list[Dispersed]] = []
    for number in numbers:
        tied = next((tie for tie in ties if tie & set(number.rows)), set())
        home = next((group for group in groups if any(tied & set(each.rows) for each in group)), None)
        if home is None:
            groups.append([number])
        else:
            home.append(number)
    return tuple(_grouped(group) for group in groups)


def _grouped(numbers: Sequence[Dispersed]) -> Grouped:
    return Grouped(
        " and ".join(each.place for each in numbers),
        " together with ".join(each.called for each in numbers),
        tuple(row for each in numbers for row in each.rows),
        tuple(numbers),
    )
