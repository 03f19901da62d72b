"""How large a study may be, so that a hostile one is refused before it costs anything."""

from __future__ import annotations

from typing import Final

__all__ = [
    "DATA_BYTES",
    "DATA_VALUES",
    "DEPENDENCES",
    "DEPTH",
    "ELEMENTS",
    "ISSUES",
    "LEGS",
    "NAME_LENGTH",
    "NODES",
    "NOTE_LENGTH",
    "OPTIONS",
    "OPTIONS_IN_FULL",
    "PARTS_PER_ELEMENT",
    "PROPELLANTS",
    "REPLACEMENTS",
    "REQUIREMENTS",
    "SCALAR_LENGTH",
    "SOURCES",
    "TEXT_BYTES",
    "TITLE_LENGTH",
]

TEXT_BYTES: Final = 256 * 1024
"""Bytes of a study's text."""

DEPTH: Final = 16
"""Mappings and lists within one another; the document itself needs 8."""

NODES: Final = 20_000
"""Values and keys, each use of an alias counted in full."""

SCALAR_LENGTH: Final = 4_000
"""Characters of any one text."""

ELEMENTS: Final = 40
PARTS_PER_ELEMENT: Final = 20
"""Engines of an element, and tanks of an element."""

PROPELLANTS: Final = 20
"""Propellants of a study's own."""

LEGS: Final = 200
REQUIREMENTS: Final = 60
"""Requirements, the supply of every tank drawn on included."""

DEPENDENCES: Final = 200
OPTIONS: Final = 40
OPTIONS_IN_FULL: Final = 150_000
"""Values and keys of the study times its options, since every option is checked as a whole study."""

ISSUES: Final = 100
"""Issues told at once; a study with more is told how many."""

REPLACEMENTS: Final = 100
"""Values that one option replaces."""

SOURCES: Final = 50
NAME_LENGTH: Final = 60
TITLE_LENGTH: Final = 200
NOTE_LENGTH: Final = 600

DATA_VALUES: Final = 8_000
"""Values read from files in one study, so that the resolved study keeps within its own limits."""

DATA_BYTES: Final = 1024 * 1024
"""Bytes of one data file."""
