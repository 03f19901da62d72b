"""The numbers of a study that rest on a practice law, and those that are fixed and only not known."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from leadline.errors import Issue, Path
from leadline.sampling import Input, Law
from leadline.study.law_shapes import KINDS
from leadline.study.practice import PRACTICES, Practice

__all__ = ["MarkedNumber", "PracticeNumber", "issues_of_knowledge", "knowledge_of", "marked_numbers", "practices_of"]


@dataclass(frozen=True, slots=True)
class MarkedNumber:
    """A number that is marked: its name and place in the study, its practice law, whether it is knowledge."""

    name: str
    path: Path
    practice: str | None
    knowledge: bool


@dataclass(frozen=True, slots=True)
class PracticeNumber:
    """A number drawn from a practice law, with the law that this makes."""

    name: str
    practice: Practice
    law: Law

    @property
    def note(self) -> str:
        """What every result says of it."""
        return f'{self.name} rests on the practice law "{self.practice.name}": {self.practice.source.standing.value}.'


def marked_numbers(resolved: Mapping[str, Any]) -> tuple[MarkedNumber, ...]:
    """Find the marked numbers of a resolved study, in its order."""
    return tuple(_within(resolved, "", ()))


def _within(part: Any, name: str, path: Path) -> Iterator[MarkedNumber]:
    if isinstance(part, dict) and isinstance(part.get("law"), str):
        practice, knowledge = part.get("practice"), part.get("kind") == KINDS[1]
        if practice is not None or knowledge:
            yield MarkedNumber(name, path, practice, knowledge)
    elif isinstance(part, dict | list):
        for step, called, inner in _steps(part):
            yield from _within(inner, f"{name}.{called}" if name else called, (*path, step))


def _steps(part: dict[str, Any] | list[Any]) -> Iterable[tuple[str | int, str, Any]]:
    """Give each step with what it is called in names: a leg by its own name, which stands first in it."""
    if isinstance(part, dict):
        return ((key, key, inner) for key, inner in part.items())
    return (
        (position, str(next(iter(inner.values()))) if isinstance(inner, dict) and inner else str(position), inner)
        for position, inner in enumerate(part)
    )


def practices_of(marked: Iterable[MarkedNumber], inputs: Sequence[Input]) -> tuple[PracticeNumber, ...]:
    """Return the numbers that rest on a practice law and are drawn, with their laws."""
    laws = {_written(given.name): given.law for given in inputs} | {given.name: given.law for given in inputs}
    return tuple(
        PracticeNumber(one.name, PRACTICES[one.practice], laws[one.name])
        for one in marked
        if one.practice is not None and one.name in laws
    )


def knowledge_of(marked: Iterable[MarkedNumber], inputs: Iterable[Input]) -> frozenset[str]:
    """Return the names of the inputs that are fixed and only not known."""
    known = {one.name for one in marked if one.knowledge}
    return frozenset(given.name for given in inputs if given.name in known)


def issues_of_knowledge(
    marked: Sequence[MarkedNumber], inputs: Sequence[Input], tied: Sequence[tuple[str, str]]
) -> list[Issue]:
    """Say which numbers cannot be knowledge: those drawn anew many times, those tied to what differs by flight.

    Parameters
    ----------
    marked
        The marked numbers of a study.
    inputs
        What is drawn; a number drawn several times has inputs named ``name#1``, ``name#2`` ...
    tied
        The pairs of numbers that have a rank correlation, in the order of the study.
    """
    anew = {_written(given.name) for given in inputs} - {given.name for given in inputs}
    known = knowledge_of(marked, inputs)
    drawn_anew = [_drawn_anew(one) for one in marked if one.knowledge and one.name in anew]
    mixed = [(at, pair) for at, pair in enumerate(tied) if (pair[0] in known) is not (pair[1] in known)]
    return [*drawn_anew, *(_tied(at, *(pair if pair[0] in known else pair[::-1])) for at, pair in mixed)]


def _written(name: str) -> str:
    """Return where a number is written, of one that is drawn several times."""
    return name.partition("#")[0]


def _drawn_anew(one: MarkedNumber) -> Issue:
    message = f"{one.name} is drawn anew each time it is used, and knowledge is one value for all."
    return Issue((*one.path, "kind"), message, "Take kind out.", "knowledge")


def _tied(at: int, known: str, other: str) -> Issue:
    message = (
        f"{known} is knowledge and {other} differs from flight to flight; a rank correlation between the two"
        " would need a law of flights for each value of what is not known."
    )
    return Issue(("dependence", at), message, "Make both of one kind, or take this entry out.", "knowledge")
