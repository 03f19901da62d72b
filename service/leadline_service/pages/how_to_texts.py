"""The how-tos: short texts whose files and commands a test writes and runs as they stand.

A text begins with its title and a line that says what it is about. Then a line that begins with ``= `` is a heading,
``$ `` a command, ``file NAME`` names the file whose lines follow with ``| ``; anything else is a paragraph.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from pathlib import Path
from typing import Final

__all__ = ["Block", "HowTo", "how_tos"]

FOLDER: Final = Path(__file__).parent / "how_to"
ORDER: Final = ("first-study", "refuelling-campaign", "compare-options", "size-a-load", "run-on-a-cluster")


@dataclass(frozen=True, slots=True)
class Block:
    """A piece of a text: its kind (heading, text, commands, file), its lines, and the name of a file."""

    kind: str
    lines: tuple[str, ...]
    name: str = ""


@dataclass(frozen=True, slots=True)
class HowTo:
    """A how-to: the name in its address, its title, what it is about, and what it says."""

    name: str
    title: str
    about: str
    blocks: tuple[Block, ...]

    @property
    def files(self) -> dict[str, str]:
        """The files it has written, by name."""
        return {block.name: "\n".join(block.lines) + "\n" for block in self.blocks if block.kind == "file"}

    @property
    def commands(self) -> tuple[str, ...]:
        """The commands it gives, in order."""
        return tuple(line for block in self.blocks if block.kind == "commands" for line in block.lines)


@lru_cache(maxsize=1)
def how_tos() -> tuple[HowTo, ...]:
    """Return every how-to in reading order."""
    return tuple(_read(name) for name in ORDER)


def _read(name: str) -> HowTo:
    title, about, *lines = (FOLDER / f"{name}.txt").read_text(encoding="utf-8").splitlines()
    return HowTo(name, title, about, tuple(_blocks(lines)))


def _blocks(lines: list[str]) -> Iterator[Block]:
    name = ""
    for kind, group in groupby(lines, _kind):
        held = tuple(group)
        if kind == "naming":
            name = held[-1].removeprefix("file ")
        elif kind == "file":
            yield Block(kind, tuple(line[2:] for line in held), name)
        elif kind == "text":
            yield from (Block(kind, (line,)) for line in held)
        elif kind:
            yield Block(kind, tuple(line[2:] for line in held))


def _kind(line: str) -> str:
    if line.startswith("file "):
        return "naming"
    return {"= ": "heading", "$ ": "commands", "| ": "file"}.get(line[:2], "text" if line.strip() else "")
