"""The dispersed numbers of a study as a reader knows them: their places, and what they are called.

Several draws of one number (each flight's delivered mass, each start of an engine) are inputs named
``place#1``, ``place#2`` and so on; here they are one number.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from leadline.run.units_of_inputs import found_at, unit_of
from leadline.sampling import Input, Law
from leadline.study import Study

__all__ = ["Dispersed", "called", "dispersed_numbers", "place_of"]


@dataclass(frozen=True, slots=True)
class Dispersed:
    """A dispersed number.

    Parameters
    ----------
    place
        Its place in the study.
    called
        What it is called in a sentence.
    unit
        Its SI unit; empty for a plain number.
    rows
        Its rows among the inputs.
    law
        The law of each of its draws.
    written
        Whether the study writes this law, so that its nominal can be moved.
    """

    place: str
    called: str
    unit: str
    rows: tuple[int, ...]
    law: Law
    written: bool

    @property
    def happens(self) -> bool:
        """Whether it stands for something that happens or does not, drawn against its chance."""
        return not self.written and self.place.rpartition(".")[2] in _HAPPENINGS


_HAPPENINGS = {"arrives", "ignition"}


def place_of(name: str) -> str:
    """Return the place in the study of an input's name."""
    return name.partition("#")[0]


def dispersed_numbers(study: Study) -> tuple[Dispersed, ...]:
    """Return the dispersed numbers of a study, in the order of its inputs."""
    document = study.resolved()
    rows: dict[str, list[int]] = {}
    for row, given in enumerate(study.inputs):
        rows.setdefault(place_of(given.name), []).append(row)
    return tuple(_dispersed(place, at, study.inputs[at[0]], document) for place, at in rows.items())


def _dispersed(place: str, rows: Sequence[int], given: Input, document: Mapping[str, Any]) -> Dispersed:
    found = found_at(document, given.name)
    return Dispersed(
        place=place,
        called=called(place),
        unit=unit_of(found),
        rows=tuple(rows),
        law=given.law,
        written=isinstance(found, dict),
    )


_INSIDE = {"oxidiser", "fuel"}
_NOUNS = {
    "at_least": "least allowed",
    "at_most": "most allowed",
    "arrives": "arrival",
    "between": "day in the window",
    "every": "interval of flights",
    "delivered": "mass delivered",
    "isp": "specific impulse",
    "lasts": "duration",
    "unusable": "unusable share",
}
"""What a key is called where its own name makes no noun."""


def called(place: str) -> str:
    """Return what a number is called in a sentence, such as "the dry mass of tern".

    Parameters
    ----------
    place
        Its place, written in full.
    """
    part, name, *steps = place.split(".")
    whose, steps = _owner(part, name, steps)
    inside = steps[1:] if steps[:1] == ["heat_leak"] else [step for step in steps if step in _INSIDE]
    nouns = [_NOUNS.get(step, step.replace("_", " ")) for step in steps if step not in inside]
    what = " ".join(nouns) or "number"
    which = f" ({', '.join(inside)})" if inside else ""
    return f"the {what}{which} of {whose}"


def _owner(part: str, name: str, steps: Sequence[str]) -> tuple[str, list[str]]:
    """Return what a number belongs to, and the steps left; tanks and engines are called element.name."""
    if part == "vehicle" and len(steps) > 1 and steps[0] in {"tanks", "engines"}:
        return f"{name}.{steps[1]}", list(steps[2:])
    return name, list(steps)
