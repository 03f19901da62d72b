"""Print the part of requirements.lock that some packages need, hashes included.

    python .ci/locked.py numpy scipy

Everything that gets installed anywhere comes from the one lock file; this cuts out what one job takes. Which package
needs which is read from the lock's own "via" comments. The name "leadline" stands for the project with all its extras,
without the test tools.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import NamedTuple

LOCK = Path(__file__).resolve().parent.parent / "requirements.lock"
PROJECT = "leadline (pyproject.toml)"


class Pin(NamedTuple):
    """One package of the lock: its name, who needs it, and its lines as they stand."""

    name: str
    via: frozenset[str]
    text: str


def pins(lock: str) -> list[Pin]:
    """Return every pin of a lock's text, in its order."""
    blocks = re.split(r"^(?=[a-z0-9])", lock, flags=re.MULTILINE)[1:]
    return [Pin(block.partition("==")[0], _via(block), block) for block in blocks]


def needed(lock: str, names: set[str]) -> list[Pin]:
    """Return the pins of the named packages and of everything these need, in the lock's order."""
    every = pins(lock)
    if unknown := names - {pin.name for pin in every} - {"leadline"}:
        raise SystemExit(f"not in the lock: {', '.join(sorted(unknown))}")
    found = {PROJECT if name == "leadline" else name for name in names}
    while more := {pin.name for pin in every if pin.via & found} - found:
        found |= more
    return [pin for pin in every if pin.name in found]


def _via(block: str) -> frozenset[str]:
    comments = "\n".join(line.strip() for line in block.splitlines() if line.lstrip().startswith("#"))
    return frozenset(re.findall(r"^#(?: via)? +(\S.*)$", comments, flags=re.MULTILINE)) - {"via"}


if __name__ == "__main__":
    sys.stdout.write("".join(pin.text for pin in needed(LOCK.read_text(encoding="utf-8"), set(sys.argv[1:]))))
