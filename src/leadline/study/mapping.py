"""Values that did not come from a text, copied into a tree under the same limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from numbers import Integral, Real

from leadline.errors import Issue, Path, StudyError
from leadline.study import limits
from leadline.study.places import Place, Tree

__all__ = ["copied", "survey"]


def survey(value: object) -> tuple[dict[str, Tree], Place]:
    """Copy a mapping into a tree, with the order of its values as places.

    Raises
    ------
    StudyError
        Where it is no mapping, too large, or holds what a study cannot hold.
    """
    if not isinstance(value, Mapping):
        message = f"A study is a mapping, not {type(value).__name__}."
        raise StudyError([Issue((), message, 'Give {"leadline": 1, "title": ..., ...}.', "not-a-mapping")])
    surveyor = _Surveyor()
    tree, root = surveyor.copy(value, ())
    if surveyor.issues or not isinstance(tree, dict):
        raise StudyError(surveyor.issues)
    return tree, root


def copied(value: object) -> Tree:
    """Copy any one value under the same limits.

    Raises
    ------
    StudyError
        Where it is too large, or holds what a study cannot hold.
    """
    surveyor = _Surveyor()
    tree, _ = surveyor.copy(value, ())
    if surveyor.issues:
        raise StudyError(surveyor.issues)
    return tree


class _Surveyor:
    """Copies and counts."""

    def __init__(self) -> None:
        self.issues: list[Issue] = []
        self.nodes = 0

    def copy(self, value: object, path: Path) -> tuple[Tree, Place]:
        """Copy one value."""
        self.nodes += 1
        place = Place(self.nodes)
        if self.nodes > limits.NODES:
            message = f"The study holds more than {limits.NODES} values."
            raise StudyError([Issue(path[:3], message, "Shorten it.", "too-large")])
        if isinstance(value, Mapping):
            self._descend(path)
            return self._mapping(value, path, place), place
        if isinstance(value, Sequence) and not isinstance(value, str | bytes | bytearray):
            self._descend(path)
            return self._list(value, path, place), place
        return self._scalar(value, path), place

    def _descend(self, path: Path) -> None:
        if len(path) >= limits.DEPTH:
            message = f"More than {limits.DEPTH} mappings and lists stand within one another."
            raise StudyError([Issue(path[:3], message, "Write the study flatter.", "too-deep")])

    def _mapping(self, value: Mapping[object, object], path: Path, place: Place) -> dict[str, Tree]:
        made: dict[str, Tree] = {}
        for key, inner in value.items():
            if not isinstance(key, str) or len(key) > limits.SCALAR_LENGTH:
                self.issues.append(Issue(path, "A key is not a short text.", "Write keys as plain words.", "key"))
                continue
            made[str(key)], place.inside[str(key)] = self.copy(inner, (*path, str(key)))
        return made

    def _list(self, value: Sequence[object], path: Path, place: Place) -> list[Tree]:
        made: list[Tree] = []
        for position, inner in enumerate(value):
            copied, place.inside[position] = self.copy(inner, (*path, position))
            made.append(copied)
        return made

    def _scalar(self, value: object, path: Path) -> Tree:
        if value is None or isinstance(value, bool):
            return value
        if isinstance(value, str):
            return self._text(str(value), path)
        if isinstance(value, Integral):
            return int(value)
        if isinstance(value, Real):
            return float(value)
        message = f"A value of type {type(value).__name__} is nothing a study can hold."
        self.issues.append(Issue(path, message, "Write a text, a number, a list or a mapping.", "type"))
        return None

    def _text(self, text: str, path: Path) -> str:
        if len(text) > limits.SCALAR_LENGTH:
            message = f"A text of {len(text)} characters stands here."
            remedy = f"Keep it within {limits.SCALAR_LENGTH} characters."
            self.issues.append(Issue(path, message, remedy, "too-long"))
        return text
