"""Where each value of a study stands in its text."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from leadline.errors import Issue, Path
from leadline.study import limits

__all__ = ["Place", "Tree", "at", "in_document_order"]

Tree = None | bool | int | float | str | list["Tree"] | dict[str, "Tree"]
"""What a study is made of before its meaning is known."""


@dataclass(slots=True)
class Place:
    """Where one value stands; `order` counts values from the top, `inside` mirrors the value.

    Lines and columns count from 1. A value in a mapping also has its key's place; both are
    None where the study did not come from a text.
    """

    order: int = 0
    value: tuple[int, int] | None = None
    key: tuple[int, int] | None = None
    inside: dict[str | int, Place] = field(default_factory=dict)

    def deepest(self, path: Path) -> tuple[Place, int]:
        """Find the place of the longest part of a path that exists, and its length."""
        here, depth = self, 0
        for step in path:
            if step not in here.inside:
                break
            here, depth = here.inside[step], depth + 1
        return here, depth

    @property
    def shown(self) -> tuple[int, int] | None:
        """The place to point at: a scalar itself, or the key of what is made of parts."""
        return self.key if self.inside and self.key is not None else self.value


def at(issue: Issue, root: Place) -> Issue:
    """Give an issue the line and column of its path, or of what encloses it."""
    place, _ = root.deepest(issue.path)
    shown = place.key if issue.code in _AT_KEY and place.key is not None else place.shown
    return issue if shown is None else replace(issue, line=shown[0], column=shown[1])


_AT_KEY = frozenset({"unknown-key", "duplicate-key", "name"})


def in_document_order(issues: Iterable[Issue], root: Place) -> tuple[Issue, ...]:
    """Place issues and sort them by where they stand; the same issue is kept once.

    Of very many the first are kept, and one more that tells how many there are.
    """
    placed = dict.fromkeys(issue if issue.line is not None else at(issue, root) for issue in issues)
    ordered = sorted(placed, key=lambda issue: root.deepest(issue.path)[0].order)
    if len(ordered) <= limits.ISSUES:
        return tuple(ordered)
    message = f"{len(ordered) - limits.ISSUES} more things are wrong with this study."
    return (*ordered[: limits.ISSUES], Issue((), message, "Put the first right and look again.", "more"))
