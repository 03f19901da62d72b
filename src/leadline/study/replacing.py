"""Values of a study replaced by their places: what an option and ``--set`` do.

A value may take the place of a number, a law, a whole subtree or the list of legs; nothing
(null) takes an entry out. The study as written is not changed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from leadline.errors import Issue, Path
from leadline.study.document import StudyDocument, kind_of
from leadline.study.model_legs import LEG_KINDS
from leadline.study.paths import steps_of
from leadline.study.places import Tree
from leadline.study.suggest import meant, shortened

__all__ = ["Replaced", "by_name", "leg_name", "replace_values"]

_KEPT: Final = frozenset({"leadline", "options", "option"})


@dataclass(frozen=True, slots=True)
class Replaced:
    """A tree with values replaced; `paths` are where in it the new values stand, by their places."""

    tree: dict[str, Tree]
    paths: Mapping[str, Path]
    issues: tuple[Issue, ...]


def replace_values(tree: Mapping[str, Tree], values: Mapping[str, Tree]) -> Replaced:
    """Replace values by their places.

    Parameters
    ----------
    tree
        The study as written.
    values
        New values by their places; None takes an entry out.

    Returns
    -------
    Replaced
        Its issues have paths that begin with the place as given.
    """
    made = {key: _apart(value) for key, value in tree.items()}
    paths: dict[str, Path] = {}
    issues: list[Issue] = []
    # From the outside in, so that a subtree can be replaced and a value in it as well.
    for place, value in sorted(values.items(), key=lambda pair: len(steps_of(pair[0]))):
        found = _put(made, place, _apart(value))
        if isinstance(found, Issue):
            issues.append(Issue((place,), found.message, found.remedy, found.code))
        elif value is not None:
            paths[place] = by_name(found, made)
    return Replaced(made, paths, tuple(issues))


def _apart(tree: Tree) -> Tree:
    """Copy a tree so that what an alias repeats is there twice, and a change of one leaves the other."""
    if isinstance(tree, dict):
        return {key: _apart(value) for key, value in tree.items()}
    return [_apart(value) for value in tree] if isinstance(tree, list) else tree


def by_name(path: Path, tree: Mapping[str, Tree]) -> Path:
    """Write a path with a leg's name in the place of its position, which other legs may shift."""
    legs = tree.get("legs")
    if len(path) < 2 or path[0] != "legs" or not isinstance(legs, list) or not isinstance(path[1], int):
        return path
    name = leg_name(legs[path[1]]) if path[1] < len(legs) else None
    return ("legs", "(no name)" if name is None else name, *path[2:])


def _put(tree: dict[str, Tree], place: str, value: Tree) -> Path | Issue:
    steps = steps_of(place)
    vehicle = tree.get("vehicle")
    elements = list(vehicle) if isinstance(vehicle, dict) else []
    unknown = len(steps) > len(place.split(".")) and steps[1] not in elements
    if steps[0] in _KEPT or unknown:
        top = [key for key in StudyDocument.model_fields if key not in _KEPT]
        return _no_place(tuple(place.split(".")), 0, [*top, *elements])
    here: Tree = tree
    path: Path = ()
    for depth, step in enumerate(steps[:-1]):
        key = _key(here, step)
        if key is None:
            return _no_place(steps, depth, _known(here))
        here, path = _inside(here, key), (*path, key)
    return _put_last(here, steps, path, value)


def _put_last(here: Tree, steps: tuple[str, ...], path: Path, value: Tree) -> Path | Issue:
    key = _key(here, steps[-1])
    if isinstance(here, list) and isinstance(key, int):
        if value is None:
            del here[key]
            return path
        here[key] = value
        return (*path, key)
    if isinstance(here, dict) and (key is not None or value is not None):
        if value is None:
            del here[steps[-1]]
            return path
        here[steps[-1]] = value
        return (*path, steps[-1])
    return _no_place(steps, len(steps) - 1, _known(here))


def _key(here: Tree, step: str) -> str | int | None:
    """Find a step in a mapping, or in a list by the leg's name or by position."""
    if isinstance(here, dict):
        return step if step in here else None
    if isinstance(here, list):
        named = [position for position, leg in enumerate(here) if leg_name(leg) == step]
        if named:
            return named[0]
        plain = step.isascii() and step.isdigit() and int(step) < len(here)
        return int(step) if plain and leg_name(here[int(step)]) is None else None
    return None


def _inside(here: Tree, key: str | int) -> Tree:
    if isinstance(here, dict):
        return here[str(key)]
    return here[int(key)] if isinstance(here, list) else None


def leg_name(leg: Tree) -> str | None:
    """Give the name of a leg as written; None where it cannot be told."""
    kind = kind_of(leg, LEG_KINDS)
    name = leg[kind] if isinstance(leg, dict) and kind is not None else None
    return name if isinstance(name, str) else None


def _known(here: Tree) -> list[str]:
    if isinstance(here, dict):
        return list(here)
    if isinstance(here, list):
        return [leg_name(leg) or str(position) for position, leg in enumerate(here)]
    return []


def _no_place(steps: tuple[str, ...], depth: int, known: list[str]) -> Issue:
    within = ".".join(steps[:depth]) or "the study"
    message = f'There is no "{shortened(steps[depth])}" in {within} to replace.'
    return Issue((), message, meant(steps[depth], known, "What is there"), "unknown-place")
