"""A tree understood: checked, settled and bound, with everything wrong said at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from leadline.errors import Issue, Path
from leadline.sampling import RankCorrelation
from leadline.study import limits
from leadline.study.binding import Bound, bind, correlations_of
from leadline.study.checking import check
from leadline.study.data_files import DataFolder
from leadline.study.document import StudyDocument
from leadline.study.marked import MarkedNumber, issues_of_knowledge, marked_numbers
from leadline.study.places import Tree
from leadline.study.replacing import Replaced, by_name, leg_name, replace_values
from leadline.study.resolved import resolved
from leadline.study.settling import settle, sorted_pair

__all__ = ["Understood", "issues_in_options", "issues_in_values", "understand"]


@dataclass(frozen=True, slots=True)
class Understood:
    """What a study means; None and empty where it could not be made out."""

    document: StudyDocument | None
    bound: Bound | None
    correlations: tuple[RankCorrelation, ...]
    issues: tuple[Issue, ...]
    resolved: dict[str, Any] = field(default_factory=dict)
    marked: tuple[MarkedNumber, ...] = ()


def understand(tree: Mapping[str, Tree], folder: DataFolder) -> Understood:
    """Make out what a tree means, its options aside."""
    document, issues = check(tree, folder)
    if document is None:
        return Understood(None, None, (), tuple(issues))
    settled = settle(document)
    bound = bind(settled)
    correlations, more = correlations_of(document.dependence, bound)
    tree_resolved = resolved(settled)
    marked = marked_numbers(tree_resolved)
    tied = [sorted_pair(given) for given in document.dependence]
    issues += [*more, *issues_of_knowledge(marked, bound.inputs, tied)]
    return Understood(settled, bound, correlations, tuple(issues), tree_resolved, marked)


def issues_in_options(tree: Mapping[str, Tree], base: Understood, folder: DataFolder) -> list[Issue]:
    """Find what each option breaks that is sound in the study itself, at the option's place."""
    options = tree.get("options")
    if not isinstance(options, dict):
        return []
    if len(options) * _size({**tree, "options": None}) > limits.OPTIONS_IN_FULL:
        message = f"{len(options)} options of a study of this size are too many."
        return [Issue(("options",), message, "Put some of them into a study of their own.", "too-large")]
    known = frozenset((by_name(issue.path, tree), issue.message) for issue in base.issues)
    issues = []
    for name, values in options.items():
        if isinstance(values, dict):
            replaced = replace_values(tree, values)
            found = issues_in_values(replaced, understand(replaced.tree, folder), known)
            issues += [_of_option(issue, name, values) for issue in found]
    return [issue for issue in issues if not _in_doubt(issue, tree)]


def _size(tree: Tree) -> int:
    inside = tree.values() if isinstance(tree, dict) else tree if isinstance(tree, list) else ()
    return 1 + sum(map(_size, inside)) + (len(tree) if isinstance(tree, dict) else 0)


def issues_in_values(
    replaced: Replaced, understood: Understood, known: frozenset[tuple[Path, str]] = frozenset()
) -> list[Issue]:
    """Find what replaced values break, beyond what is known; a path begins with the place replaced."""
    named = [
        Issue(by_name(issue.path, replaced.tree), issue.message, issue.remedy, issue.code)
        for issue in understood.issues
    ]
    new = [issue for issue in named if (issue.path, issue.message) not in known]
    return [*replaced.issues, *(_under_place(issue, replaced.paths) for issue in new)]


def _under_place(issue: Issue, paths: Mapping[str, Path]) -> Issue:
    """Put an issue under the replaced value that holds it, where one does."""
    holding = [(len(path), place) for place, path in paths.items() if issue.path[: len(path)] == path]
    if not holding:
        return issue
    depth, place = max(holding)
    return Issue((place, *issue.path[depth:]), issue.message, issue.remedy, issue.code)


def _of_option(issue: Issue, name: str, values: Mapping[str, Tree]) -> Issue:
    """Put an issue at an option's value, or at the option with where else it shows."""
    if issue.path and issue.path[0] in values:
        return Issue(("options", name, *issue.path), issue.message, issue.remedy, issue.code)
    where = ".".join(str(step) for step in issue.path)
    return Issue(("options", name), f"With this option, {where}: {issue.message}", issue.remedy, issue.code)


def _in_doubt(issue: Issue, tree: Mapping[str, Tree]) -> bool:
    """Whether an option may well name a leg that only could not be read."""
    legs = tree.get("legs")
    unread = isinstance(legs, list) and any(leg_name(leg) is None for leg in legs)
    return unread and issue.code == "unknown-place" and str(issue.path[-1]).startswith("legs.")
