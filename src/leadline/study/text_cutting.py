"""Cutting and pasting in a study's text by the spans of its values; `leadline.study.editing` checks what comes out."""

from __future__ import annotations

import json

from leadline.errors import Path
from leadline.study.places import Tree
from leadline.study.text_spans import Entry, Span, found
from leadline.study.text_writing import as_block, as_flow, as_json, key_text, wants_block

__all__ = ["Cutter", "CuttingError"]


class CuttingError(Exception):
    """The text has no place to cut at."""


class Cutter:
    """Cuts and pastes in a text by the spans of its values."""

    def __init__(self, text: str, root: Span) -> None:
        self.text, self.root = text, root
        self.json = text.lstrip().startswith("{") and _is_json(text)

    def set(self, path: Path, value: Tree) -> None:
        """Replace or add a value."""
        way = found(self.root, path)
        if way is None:
            self._add_key(self._value(path[:-1]), str(path[-1]), value)
        else:
            self._replace(way, value)

    def remove(self, path: Path) -> None:
        """Take an entry out."""
        holder, entry = self._value(path[:-1]), self._entry(path)
        if len(holder.entries) == 1:
            self._empty(path[:-1], holder)
        elif holder.block:
            self._splice(*self._lines_of(holder, entry), "")
        else:
            self._splice(*self._with_comma(holder, entry), "")

    def add(self, path: Path, value: Tree, before: int | None) -> None:
        """Put an item into a list."""
        holder = self._value(path)
        if not holder.entries:
            self._replace(found(self.root, path) or [], [value])
        elif before is None or before == len(holder.entries):
            self._after_last(holder, value, "- " if holder.block else "")
        elif holder.block:
            column = self._column(holder.entries[0].start)
            start = self._line_start(holder.entries[before].start)
            self._splice(start, start, "".join(f"{line}\n" for line in self._item_lines(value, column)))
        else:
            start = holder.entries[before].start
            self._splice(start, start, f"{self._inline(value)}, ")

    def move(self, path: Path, to: int) -> None:
        """Give an item of a list another position; in a block with its lines."""
        holder, entry = self._value(path[:-1]), self._entry(path)
        if not holder.block:
            self._reorder(holder, holder.entries.index(entry), to)
            return
        if not self.text.endswith("\n"):
            self.text += "\n"
        start, stop = self._lines_of(holder, entry)
        lines = self.text[start:stop]
        others = [each for each in holder.entries if each is not entry]
        at = self._line_start(others[to].start) if to < len(others) else self._line_end(others[-1].value.stop)
        self._splice(max(start, at), max(start, at), lines if at > start else "")
        self._splice(start, stop, "")
        if at <= start:
            self._splice(at, at, lines)

    def _reorder(self, holder: Span, position: int, to: int) -> None:
        places = [(each.start, each.value.stop) for each in holder.entries]
        texts = [self.text[start:stop] for start, stop in places]
        texts.insert(to, texts.pop(position))
        for (start, stop), moved in zip(reversed(places), reversed(texts), strict=True):
            self._splice(start, stop, moved)

    def rename(self, path: Path, name: str) -> None:
        """Give an entry another key."""
        entry = self._entry(path)
        self._splice(entry.start, entry.key_stop, as_json(name) if self.json else key_text(name))

    # ------------------------------------------------------------------ values

    def _replace(self, way: list[Entry], value: Tree) -> None:
        entry = way[-1]
        old = entry.value
        flow = any(not each.value.block and each.value.is_collection for each in way[:-1]) or not self.root.block
        if wants_block(value) and not flow and not self.json:
            self._replace_by_block(entry, value)
        elif old.block and old.is_collection:
            self._replace_block(entry, self._inline(value))
        else:
            gap = " " if old.start == entry.mark_stop and self.text[old.start - 1 : old.start] in {":", "-"} else ""
            self._splice(old.start, old.stop, gap + self._inline(value))

    def _replace_block(self, entry: Entry, inline: str) -> None:
        """Put one line in the place of a block; a comment behind the key stays."""
        old, line_end = entry.value, self._line_end(entry.mark_stop, with_break=False)
        if line_end > old.start:  # it begins on the line of its dash
            self._splice(old.start, old.stop, inline)
            return
        behind = self.text[entry.mark_stop : line_end]
        self._splice(entry.mark_stop, old.stop, f" {inline}{behind}")

    def _replace_by_block(self, entry: Entry, value: Tree) -> None:
        """Write a value over lines; a comment behind what stood there stays on its line."""
        old, line_end = entry.value, self._line_end(entry.mark_stop, with_break=False)
        end = old.stop if old.block else self._line_end(old.stop, with_break=False)
        behind = "" if old.block and old.start < line_end else self.text[entry.mark_stop : line_end]
        if not old.block:
            behind = self.text[old.stop : end]
        lines = self._indented(as_block(value), self._column(entry.start) + 2)
        if isinstance(entry.step, int):  # begins behind its dash
            self._splice(entry.mark_stop, end, f" {lines[0].lstrip()}{behind}" + "".join(f"\n{x}" for x in lines[1:]))
        else:
            self._splice(entry.mark_stop, end, behind.rstrip() + "".join(f"\n{line}" for line in lines))

    def _empty(self, path: Path, holder: Span) -> None:
        nothing: Tree = {} if holder.kind == "mapping" else []
        way = found(self.root, path)
        if way:
            self._replace(way, nothing)
        else:
            self._splice(holder.start, holder.stop, as_flow(nothing))

    def _add_key(self, holder: Span, key: str, value: Tree) -> None:
        if holder.kind != "mapping":
            raise CuttingError("no mapping")
        head = f"{as_json(key) if self.json else key_text(key)}:"
        if not holder.entries:
            self._splice(holder.start, holder.stop, "{" + f"{head} {self._inline(value)}" + "}")
            return
        self._after_last(holder, value, f"{head} ")

    def _after_last(self, holder: Span, value: Tree, head: str) -> None:
        """Write an entry behind the last one."""
        last = holder.entries[-1].value.stop
        if holder.block:
            column = self._column(holder.entries[0].start)
            lines = self._item_lines(value, column) if head == "- " else self._key_lines(head, value, column)
            end = self._line_end(last)
            first = "" if self.text[:end].endswith("\n") else "\n"
            self._splice(end, end, first + "".join(f"{line}\n" for line in lines))
            return
        lead = self.text[holder.start + 1 : holder.entries[0].start]
        gap = lead if "\n" in lead and not lead.strip() else " "
        self._splice(last, last, f",{gap}{head}{self._inline(value)}")

    def _item_lines(self, value: Tree, column: int) -> list[str]:
        return self._indented(as_block([value]), column)

    def _key_lines(self, head: str, value: Tree, column: int) -> list[str]:
        if not wants_block(value):
            return self._indented([head + self._inline(value)], column)
        return self._indented([head.rstrip(), *(f"  {line}" for line in as_block(value))], column)

    @staticmethod
    def _indented(lines: list[str], column: int) -> list[str]:
        return [" " * column + line for line in lines]

    def _inline(self, value: Tree) -> str:
        return as_json(value) if self.json else as_flow(value)

    # ------------------------------------------------------------------ text

    def _value(self, path: Path) -> Span:
        way = found(self.root, path)
        if way is None:
            raise CuttingError("no such place")
        return way[-1].value if way else self.root

    def _entry(self, path: Path) -> Entry:
        way = found(self.root, path)
        if not way:
            raise CuttingError("no such place")
        return way[-1]

    def _lines_of(self, holder: Span, entry: Entry) -> tuple[int, int]:
        """Return the lines of an entry of a block; of the first on its line, all up to the next one's key."""
        start = self._line_start(entry.start)
        if self.text[start : entry.start].strip():
            after = holder.entries[holder.entries.index(entry) + 1]
            return entry.start, after.start
        return start, self._line_end(entry.value.stop)

    def _with_comma(self, holder: Span, entry: Entry) -> tuple[int, int]:
        at = holder.entries.index(entry)
        if at + 1 < len(holder.entries):
            return entry.start, holder.entries[at + 1].start
        return holder.entries[at - 1].value.stop, entry.value.stop

    def _column(self, at: int) -> int:
        return at - self._line_start(at)

    def _line_start(self, at: int) -> int:
        return self.text.rfind("\n", 0, at) + 1

    def _line_end(self, at: int, *, with_break: bool = True) -> int:
        end = self.text.find("\n", at)
        return len(self.text) if end < 0 else end + with_break

    def _splice(self, start: int, stop: int, new: str) -> None:
        self.text = self.text[:start] + new + self.text[stop:]


def _is_json(text: str) -> bool:
    try:
        json.loads(text)
    except (ValueError, RecursionError):
        return False
    return True
