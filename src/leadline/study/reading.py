"""Text into a tree of plain values, with places, and with limits that hold while reading.

YAML 1.2's core rules: ``yes``, ``no``, dates and ``12:30`` stay text. No tags, no merge
keys; aliases are allowed and counted in full each time they are used, so an alias bomb is
refused when its first layer bursts the limit. JSON is read as the YAML it is.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final

import yaml

from leadline.errors import Issue, Path, StudyError
from leadline.study import limits
from leadline.study.mapping import survey
from leadline.study.places import Place, Tree

__all__ = ["Reading", "read", "read_value", "scalar"]

_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

_UNREADABLE_CHARACTER: Final = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff\ufffe\uffff]")
_INTEGER: Final = re.compile(r"[-+]?[0-9]{1,30}")
_FLOAT: Final = re.compile(r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]{1,6})?")
_WORDS: Final[dict[str, Tree]] = {
    "": None, "~": None, "null": None, "Null": None, "NULL": None,
    "true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Reading:
    """A study's text as read: its tree, where each value stands, and what is wrong so far."""

    tree: dict[str, Tree]
    root: Place
    issues: tuple[Issue, ...] = ()


def read(text: str) -> Reading:
    """Read a study's text.

    Raises
    ------
    StudyError
        Where nothing can be made of it: too large, no YAML, no mapping, a tag.
    """
    _check_text(text)
    composer = _Composer(yaml.parse(text, Loader=_Loader))
    try:
        tree, root = composer.document()
    except yaml.YAMLError as error:
        return _read_json(text, _syntax_issue(error))
    if not isinstance(tree, dict):
        raise StudyError([_not_a_mapping(tree, root)])
    return Reading(tree, root, tuple(composer.issues))


def read_value(text: str) -> Tree:
    """Read the text of a single value, as it would be read within a study.

    Raises
    ------
    StudyError
        Where it is no YAML.
    """
    _check_text(text)
    composer = _Composer(yaml.parse(text, Loader=_Loader))
    try:
        tree, _ = composer.document()
    except yaml.YAMLError as error:
        raise StudyError([_syntax_issue(error)]) from None
    if composer.issues:
        raise StudyError(composer.issues)
    return tree


def scalar(text: str) -> Tree:
    """Read an unquoted YAML text: nothing, true or false, a number, or itself."""
    if text in _WORDS:
        return _WORDS[text]
    if _INTEGER.fullmatch(text):
        return int(text)
    return float(text) if _FLOAT.fullmatch(text) else text


def _check_text(text: str) -> None:
    size = len(text.encode("utf-8", "surrogatepass")) if len(text) <= limits.TEXT_BYTES else len(text)
    if size > limits.TEXT_BYTES:
        message = f"The study has more than {limits.TEXT_BYTES // 1024} KiB of text."
        raise StudyError(
            [Issue((), message, "Shorten it; tables of data belong in a CSV file beside it.", "too-large")]
        )
    found = _UNREADABLE_CHARACTER.search(text)
    if found is not None:
        line, column = _line_and_column(text, found.start())
        message = f"There is a character that no text holds (code {ord(found[0])})."
        raise StudyError([Issue((), message, "Save the study as UTF-8 text.", "not-text", line, column)])


def _line_and_column(text: str, position: int) -> tuple[int, int]:
    return text.count("\n", 0, position) + 1, position - text.rfind("\n", 0, position)


def _not_a_mapping(tree: Tree, root: Place) -> Issue:
    message = "The study is empty." if tree is None else "The study is not a mapping of keys to values."
    line, column = root.value or (1, 1)
    return Issue((), message, 'Begin it with "leadline: 1" and "title: ...".', "not-a-mapping", line, column)


_SYNTAX_REMEDIES: Final = (
    ("cannot start any token", "Indent with spaces, and put a text that begins with %, @ or ` in quotes."),
    ("mapping values are not allowed", "Put a text with a colon in quotes, and check the indentation."),
    ("expected <block end>", "Check the indentation: keys of one mapping stand under one another."),
    ("could not find expected ':'", 'Write "key: value", with a space after the colon.'),
    ("undefined alias", "Define the anchor (&name) before it is used (*name)."),
)


def _syntax_issue(error: yaml.YAMLError) -> Issue:
    problem = str(getattr(error, "problem", None) or getattr(error, "reason", None) or error)
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    line, column = (1, 1) if mark is None else (mark.line + 1, mark.column + 1)
    if "nesting depth" in problem:
        return _too_deep((), (line, column))
    remedy = next(
        (text for part, text in _SYNTAX_REMEDIES if part in problem), "Check quotes, brackets and indentation."
    )
    return Issue((), f"The text cannot be read as YAML: {problem}.", remedy, "syntax", line, column)


def _read_json(text: str, yaml_issue: Issue) -> Reading:
    """Read JSON that YAML cannot (escaped surrogate pairs); its values have no places."""
    doubles: list[Issue] = []

    def gather(pairs: list[tuple[str, Tree]]) -> dict[str, Tree]:
        seen: dict[str, Tree] = {}
        doubles.extend(_duplicate((), key, None) for key, _ in pairs if key in seen or seen.update({key: None}))
        return dict(pairs)

    try:
        if not text.lstrip().startswith("{"):
            raise StudyError([yaml_issue])
        tree = json.loads(text, object_pairs_hook=gather)
    except (ValueError, RecursionError):
        raise StudyError([yaml_issue]) from None
    tree, root = survey(tree)
    return Reading(tree, root, tuple(doubles))


def _duplicate(path: Path, key: str, mark: tuple[int, int] | None) -> Issue:
    line, column = mark or (None, None)
    message = f'The key "{key[:60]}" stands here twice.'
    return Issue((*path, key), message, "Keep one of them.", "duplicate-key", line, column)


def _too_deep(path: Path, mark: tuple[int, int] | None) -> Issue:
    line, column = mark or (None, None)
    message = f"More than {limits.DEPTH} mappings and lists stand within one another."
    return Issue(path[:3], message, "Write the study flatter.", "too-deep", line, column)


@dataclass(slots=True)
class _Node:
    """A value with its place and what it costs when an alias repeats it."""

    value: Tree
    place: Place
    size: int = 1
    height: int = 0


@dataclass(slots=True)
class _Composer:
    """Makes the tree from YAML events, counting."""

    events: Iterator[Any]
    issues: list[Issue] = field(default_factory=list)
    anchors: dict[str, _Node | None] = field(default_factory=dict)
    nodes: int = 0
    made: int = 0

    def document(self) -> tuple[Tree, Place]:
        """Compose the only document of the stream."""
        next(self.events)
        if isinstance(next(self.events), yaml.StreamEndEvent):
            return None, Place()
        node = self.node(next(self.events), ())
        next(self.events)
        after = next(self.events)
        if not isinstance(after, yaml.StreamEndEvent):
            message = "A second document begins here."
            raise StudyError([Issue((), message, "Keep one study in a file.", "many-documents", *_mark(after))])
        return node.value, node.place

    def node(self, event: Any, path: Path) -> _Node:
        """Compose the value that begins with an event."""
        self._count(1, event, path)
        if isinstance(event, yaml.AliasEvent):
            return self._alias(event, path)
        if event.tag is not None:
            message = f"The tag {event.tag[:60]} stands here."
            raise StudyError([Issue(path, message, "Leave it out: a study has no tags.", "tag", *_mark(event))])
        if event.anchor is not None:
            self.anchors[event.anchor] = None
        node = self._untagged(event, path)
        if event.anchor is not None:
            self.anchors[event.anchor] = node
        return node

    def _untagged(self, event: Any, path: Path) -> _Node:
        if isinstance(event, yaml.ScalarEvent):
            return _Node(self._scalar(event, path), self._place(event))
        if len(path) >= limits.DEPTH:
            raise StudyError([_too_deep(path, _mark(event))])
        return self._mapping(event, path) if isinstance(event, yaml.MappingStartEvent) else self._list(event, path)

    def _scalar(self, event: Any, path: Path) -> Tree:
        if len(event.value) > limits.SCALAR_LENGTH:
            message = f"A text of {len(event.value)} characters stands here."
            remedy = f"Keep it within {limits.SCALAR_LENGTH} characters."
            raise StudyError([Issue(path, message, remedy, "too-long", *_mark(event))])
        return scalar(event.value) if event.implicit[0] else str(event.value)

    def _list(self, event: Any, path: Path) -> _Node:
        values: list[Tree] = []
        made = _Node(values, self._place(event))
        while not isinstance(event := next(self.events), yaml.SequenceEndEvent):
            self._add(made, len(values), self.node(event, (*path, len(values))))
        return made

    def _mapping(self, event: Any, path: Path) -> _Node:
        made = _Node({}, self._place(event))
        while not isinstance(event := next(self.events), yaml.MappingEndEvent):
            key = self._key(event, path)
            node = self.node(next(self.events), (*path, key))
            node.place.key = _mark(event)
            if key in made.place.inside:
                self.issues.append(_duplicate(path, key, _mark(event)))
            else:
                self._add(made, key, node)
        return made

    def _key(self, event: Any, path: Path) -> str:
        self._count(1, event, path)
        plain = isinstance(event, yaml.ScalarEvent) and event.tag is None and event.anchor is None
        if not plain or len(event.value) > limits.SCALAR_LENGTH:
            message = "A key here is not a short plain text."
            raise StudyError([Issue(path, message, "Write keys as plain words.", "key", *_mark(event))])
        return str(event.value)

    def _alias(self, event: Any, path: Path) -> _Node:
        known = self.anchors.get(event.anchor)
        if known is None:
            message = f"The alias *{event.anchor[:60]} names nothing that is complete here."
            raise StudyError([Issue(path, message, "Write the value out.", "alias", *_mark(event))])
        self._count(known.size, event, path)
        if len(path) + known.height > limits.DEPTH:
            raise StudyError([_too_deep(path, _mark(event))])
        return _Node(known.value, Place(self._next(), _mark(event), None, known.place.inside), known.size, known.height)

    @staticmethod
    def _add(made: _Node, step: str | int, node: _Node) -> None:
        if isinstance(made.value, dict):
            made.value[str(step)] = node.value
        elif isinstance(made.value, list):
            made.value.append(node.value)
        made.place.inside[step] = node.place
        made.size += node.size
        made.height = max(made.height, node.height + 1)

    def _place(self, event: Any) -> Place:
        return Place(self._next(), _mark(event))

    def _next(self) -> int:
        self.made += 1
        return self.made

    def _count(self, nodes: int, event: Any, path: Path) -> None:
        self.nodes += nodes
        if self.nodes > limits.NODES:
            message = f"The study holds more than {limits.NODES} values, aliases counted each time they are used."
            raise StudyError([Issue(path[:3], message, "Shorten it.", "too-large", *_mark(event))])


def _mark(event: Any) -> tuple[int, int]:
    return event.start_mark.line + 1, event.start_mark.column + 1
