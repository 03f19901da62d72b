"""A study's text edited at a place: comments, order, layout and every other value stay as they were.

What comes out is read again and compared with the tree as it should be; a text in which that cannot
be reached, because of an anchor for instance, is refused and not spoiled.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Final

import yaml

from leadline.errors import LeadlineError, Path, StudyError
from leadline.study.mapping import copied
from leadline.study.paths import steps_of
from leadline.study.places import Tree
from leadline.study.reading import read
from leadline.study.replacing import leg_name
from leadline.study.suggest import shortened
from leadline.study.text_cutting import Cutter, CuttingError
from leadline.study.text_spans import spans_of

__all__ = ["EditError", "add", "move", "path_of", "remove", "rename", "set_value"]

At = str | Path
"""A place: as an option writes it (``tern.dry_mass``), or every key and position from the top."""


class EditError(LeadlineError):
    """A text cannot be edited as asked without changing something else."""


def set_value(text: str, place: At, value: object) -> str:
    """Replace a value, or write one that is not there yet into the mapping that would hold it.

    Parameters
    ----------
    text
        A study, YAML or JSON.
    place
        Where.
    value
        What is to stand there: texts, numbers, lists, mappings, None for null.

    Returns
    -------
    str
        The text with that one value changed.

    Raises
    ------
    EditError
        There is no such place, or the change cannot be made safely.
    StudyError
        The text cannot be read.
    """
    new = copied(value)

    def put(tree: Tree, path: Path) -> None:
        here = _at(tree, path[:-1])
        if isinstance(here, dict):
            here[str(path[-1])] = new
        elif isinstance(here, list) and path[-1] in range(len(here)):
            here[int(path[-1])] = new
        else:
            raise _nowhere(path)

    return _edited(text, place, put, lambda cutter, path: cutter.set(path, new))


def remove(text: str, place: At) -> str:
    """Take an entry out; arguments and errors as `set_value`."""

    def take(tree: Tree, path: Path) -> None:
        _at(tree, path)
        here = _at(tree, path[:-1])
        if isinstance(here, dict | list):
            del here[path[-1]]  # type: ignore[arg-type]

    return _edited(text, place, take, lambda cutter, path: cutter.remove(path))


def add(text: str, place: At, value: object, before: int | None = None) -> str:
    """Put a value into a list.

    Parameters
    ----------
    text, place
        The study, and where in it the list is.
    value
        What is added.
    before
        The position it takes; None for the end.

    Raises
    ------
    EditError, StudyError
        As `set_value`.
    """
    new = copied(value)

    def put(tree: Tree, path: Path) -> None:
        here = _at(tree, path)
        if not isinstance(here, list) or not 0 <= (len(here) if before is None else before) <= len(here):
            raise EditError(f"There is no list with such a position at {_said(path)}.")
        here.insert(len(here) if before is None else before, new)

    return _edited(text, place, put, lambda cutter, path: cutter.add(path, new, before))


def move(text: str, place: At, to: int) -> str:
    """Give an item of a list another position, with the comments on its lines; errors as `set_value`."""

    def put(tree: Tree, path: Path) -> None:
        here = _at(tree, path[:-1])
        if not isinstance(here, list) or not isinstance(path[-1], int) or not 0 <= to < len(here):
            raise EditError(f"There is no list with such a position at {_said(path[:-1])}.")
        here.insert(to, here.pop(path[-1]))

    return _edited(text, place, put, lambda cutter, path: cutter.move(path, to))


def rename(text: str, place: At, name: str) -> str:
    """Give an entry of a mapping another key, in its place; what refers to it stays; errors as `set_value`."""

    def put(tree: Tree, path: Path) -> None:
        here = _at(tree, path[:-1])
        if not isinstance(here, dict) or name in here or path[-1] not in here:
            raise EditError(f"{_said(path)} cannot be called {shortened(name)}.")
        pairs = [(name if key == path[-1] else key, value) for key, value in here.items()]
        here.clear()
        here.update(pairs)

    return _edited(text, place, put, lambda cutter, path: cutter.rename(path, name))


def path_of(tree: Tree, place: At) -> Path:
    """Return a place with every key and position from the top; a leg is found by its name.

    The last step need not be there yet.
    """
    if not isinstance(place, str):
        return tuple(place)
    here, path = tree, list[str | int]()
    for step in steps_of(place):
        key = _position(here, step) if isinstance(here, list) else step
        path.append(key)
        here = _inside(here, key)
    return tuple(path)


def _position(legs: list[Tree], step: str) -> str | int:
    named = [at for at, leg in enumerate(legs) if leg_name(leg) == step]
    if named:
        return named[0]
    return int(step) if step.isascii() and step.isdigit() else step


def _inside(here: Tree, step: str | int) -> Tree:
    if isinstance(here, dict):
        return here.get(str(step))
    return here[step] if isinstance(here, list) and isinstance(step, int) and -1 < step < len(here) else None


def _at(tree: Tree, path: Path) -> Tree:
    here = tree
    for depth, step in enumerate(path):
        inside = isinstance(here, dict) and step in here
        if not inside and not (isinstance(here, list) and isinstance(step, int) and -1 < step < len(here)):
            raise _nowhere(path[: depth + 1])
        here = _inside(here, step)
    return here


def _said(path: Path) -> str:
    return ".".join(shortened(str(step)) for step in path) or "the top of the study"


def _nowhere(path: Path) -> EditError:
    return EditError(f"There is nothing at {_said(path)} to change.")


_UNSAFE: Final = (
    "cannot be changed in this text without touching something else; an anchor (&name) or two values on one line may "
    "be the cause. Change it by hand."
)


def _edited(text: str, place: At, change: Callable[[Tree, Path], None], edit: Callable[[Cutter, Path], None]) -> str:
    reading = read(text)
    if reading.issues:
        raise EditError("The text has a key twice in one mapping. Keep one of them first.")
    path = path_of(reading.tree, place)
    if not path:
        raise EditError("The whole study cannot be changed at once.")
    _at(reading.tree, path[:-1])
    wanted = json.loads(json.dumps(reading.tree))  # parts that an alias repeats are parts of their own here
    change(wanted, path)
    try:
        cutter = Cutter(text, spans_of(text))
    except yaml.YAMLError:  # JSON that is no YAML
        return _as_whole_json(text, wanted)
    try:
        edit(cutter, path)
        made = read(cutter.text)
    except (CuttingError, ValueError, IndexError, StudyError) as error:
        raise EditError(f"{_said(path)} {_UNSAFE}") from error
    if made.issues or not _same(made.tree, wanted):
        raise EditError(f"{_said(path)} {_UNSAFE}")
    return cutter.text


def _as_whole_json(text: str, tree: Tree) -> str:
    """Write JSON anew, indented as it was: it has no comments to lose."""
    second = next((line for line in text.splitlines()[1:] if line.strip()), "")
    indent = second[: len(second) - len(second.lstrip())] or None
    return json.dumps(tree, indent=indent, ensure_ascii=True) + ("\n" if text.endswith("\n") else "")


def _same(first: Tree, second: Tree) -> bool:
    """Compare two trees, order of keys and kinds of numbers included."""
    return json.dumps(first, allow_nan=False) == json.dumps(second, allow_nan=False)
