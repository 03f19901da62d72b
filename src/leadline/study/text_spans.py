"""Where every value of a study's text begins and ends, so that one can be replaced and the rest kept.

Positions count characters from the start of the text. What a block (a mapping or a list written
over lines) ends with is the end of its last value: comments and blank lines below belong to nobody.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final

import yaml

from leadline.errors import Path

__all__ = ["Entry", "Span", "found", "spans_of"]

_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

SCALAR, MAPPING, LIST, ALIAS = "scalar", "mapping", "list", "alias"
_COLLECTIONS: Final = (MAPPING, LIST)


@dataclass(slots=True)
class Span:
    """A value in a text.

    Parameters
    ----------
    kind
        ``scalar``, ``mapping``, ``list`` or ``alias``.
    start, stop
        Where it stands.
    block
        Whether it is written over lines: a block mapping or list, or a literal or folded text.
    entries
        What is inside, in order.
    """

    kind: str
    start: int
    stop: int
    block: bool = False
    entries: list[Entry] = field(default_factory=list)

    @property
    def is_collection(self) -> bool:
        """Whether it is a mapping or a list."""
        return self.kind in _COLLECTIONS

    def entry(self, step: str | int) -> Entry | None:
        """Find the entry under a key, or at a position of a list."""
        return next((entry for entry in self.entries if entry.step == step), None)


@dataclass(slots=True)
class Entry:
    """An entry of a mapping or a list.

    Parameters
    ----------
    step
        Its key or its position.
    start, key_stop
        Where its key stands; of an item in a block list its dash, of one in a flow list the value itself.
    mark_stop
        Where the colon or the dash ends.
    value
        What stands there.
    """

    step: str | int
    start: int
    key_stop: int
    mark_stop: int
    value: Span


def spans_of(text: str) -> Span:
    """Find the spans of a text that `leadline.study.reading.read` could read as YAML.

    Raises
    ------
    yaml.YAMLError
        It is no YAML.
    """
    dashes, colons = _marks(text)
    events = yaml.parse(text, Loader=_Loader)
    next(events)
    next(events)
    return _Spanner(events, text, dashes, colons).value(next(events))


def found(root: Span, path: Path) -> list[Entry] | None:
    """Follow a path from the top; None where something on it is not there."""
    here, way = root, []
    for step in path:
        entry = here.entry(step)
        if entry is None:
            return None
        way.append(entry)
        here = entry.value
    return way


def _marks(text: str) -> tuple[list[int], list[int]]:
    """Return where every dash and every colon ends, in order."""
    dashes, colons = [], []
    for token in yaml.scan(text, Loader=_Loader):
        if isinstance(token, yaml.BlockEntryToken):
            dashes.append(token.end_mark.index)
        elif isinstance(token, yaml.ValueToken):
            colons.append(token.end_mark.index)
    return dashes, colons


@dataclass(slots=True)
class _Spanner:
    """Makes spans from events."""

    events: Iterator[Any]
    text: str
    dashes: list[int]
    colons: list[int]

    def value(self, event: Any) -> Span:
        """Return the span of the value that begins with an event."""
        start, stop = event.start_mark.index, event.end_mark.index
        if isinstance(event, yaml.AliasEvent):
            return Span(ALIAS, start, stop)
        if isinstance(event, yaml.ScalarEvent):
            literal = event.style in {"|", ">"}
            return Span(SCALAR, start, self._trimmed(start, stop) if literal else stop, block=literal)
        mapping = isinstance(event, yaml.MappingStartEvent)
        made = Span(MAPPING if mapping else LIST, start, stop, block=not event.flow_style)
        end = self._entries(made)
        made.stop = end.end_mark.index if event.flow_style else made.entries[-1].value.stop
        return made

    def _entries(self, made: Span) -> Any:
        """Add what is inside, and return the event that ends it."""
        while not isinstance(event := next(self.events), yaml.MappingEndEvent | yaml.SequenceEndEvent):
            made.entries.append(self._pair(event) if made.kind == MAPPING else self._item(event, made))
        return event

    def _pair(self, key: Any) -> Entry:
        value = self.value(next(self.events))
        key_stop = key.end_mark.index
        colon = self.colons[min(bisect_left(self.colons, key_stop), len(self.colons) - 1)] if self.colons else key_stop
        value.start, value.stop = max(value.start, colon), max(value.stop, colon)
        return Entry(str(getattr(key, "value", "")), key.start_mark.index, key_stop, max(colon, key_stop), value)

    def _item(self, event: Any, made: Span) -> Entry:
        value = self.value(event)
        position = len(made.entries)
        if not made.block:
            return Entry(position, value.start, value.start, value.start, value)
        # Dashes of items inside come after the value's start, or at it: the last one before is this item's.
        dash = self.dashes[bisect_left(self.dashes, value.start + 1) - 1]
        return Entry(position, dash - 1, dash, dash, value)

    def _trimmed(self, start: int, stop: int) -> int:
        return start + len(self.text[start:stop].rstrip())
