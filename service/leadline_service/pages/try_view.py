"""The numbers of a study that can be moved on the screen that tries changes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from leadline.report.laws import law_text
from leadline.run.dispersed import called
from leadline.run.try_changes import middle_of
from leadline.run.units_of_inputs import found_at
from leadline.study import Study
from leadline.study.places import Tree
from leadline.study.replacing import leg_name
from leadline.study.text_writing import as_flow

__all__ = ["Movable", "movable_numbers"]

PARTS: Final = ("vehicle", "legs", "requirements")
MIDDLES: Final = ("nominal", "mean", "median", "likely")
QUANTITY: Final = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?(?: .*)?")


@dataclass(frozen=True, slots=True)
class Movable:
    """A number that can be moved.

    Parameters
    ----------
    place, called
        Where it stands, and what it is called.
    kind
        ``law`` for one with a spread, else ``number``.
    text
        Its value, or the middle of its law, with its unit.
    law
        Its law in words; empty for a fixed number.
    """

    place: str
    called: str
    kind: str
    text: str
    law: str


def movable_numbers(study: Study) -> tuple[Movable, ...]:
    """Return the numbers that a study writes, in its own order; what it leaves to defaults is left out."""
    resolved = study.resolved()
    laws = {given.name.partition("#")[0]: law_text(dict(given.law.describe())) for given in study.inputs}
    return tuple(_found(study.tree, resolved, laws))


def _found(tree: dict[str, Tree], resolved: dict[str, Any], laws: dict[str, str]) -> Iterator[Movable]:
    for part in PARTS:
        waiting = _inside(tree.get(part), part)
        while waiting:
            place, written = waiting.pop(0)
            movable = _movable(place, written, _at(resolved, place), laws)
            if movable is not None:
                yield movable
            else:  # what a law is made of is moved with it
                waiting[:0] = _inside(written, place)


def _inside(here: Tree, place: str) -> list[tuple[str, Tree]]:
    """Return the values within another, with their places."""
    if isinstance(here, dict):
        return [(f"{place}.{step}", value) for step, value in here.items()]
    if isinstance(here, list) and place == "legs":
        return [(f"{place}.{name}", leg) for leg in here if (name := leg_name(leg)) is not None]
    return []


def _at(resolved: dict[str, Any], place: str) -> Any:
    try:
        return found_at(resolved, place)
    except (KeyError, StopIteration, TypeError):
        return None


def _movable(place: str, written: Tree, resolved: Any, laws: dict[str, str]) -> Movable | None:
    if isinstance(resolved, dict) and "law" in resolved:
        middle = _middle(written, resolved)
        words = as_flow(written) if isinstance(written, dict) else laws.get(place, "")
        return None if middle is None else Movable(place, _named(place), "law", middle, words)
    plain = isinstance(written, int | float) and not isinstance(written, bool)
    if not plain and not (isinstance(written, str) and QUANTITY.fullmatch(written)):
        return None
    # A name may look like a quantity; what is one is read as a number.
    is_number = isinstance(resolved, int | float) or (isinstance(resolved, str) and bool(QUANTITY.fullmatch(resolved)))
    return Movable(place, _named(place), "number", f"{written}", "") if is_number and _depth(place) else None


def _middle(written: Tree, resolved: dict[str, Any]) -> str | None:
    """Return the middle of a law as the study writes it, else worked out."""
    given = written if isinstance(written, dict) else {}
    stated = next((given[key] for key in MIDDLES if key in given), None)
    return middle_of(resolved) if stated is None else f"{stated}"


def _depth(place: str) -> bool:
    return place.count(".") > 1


def _named(place: str) -> str:
    return called(place) if _depth(place) else place
