"""Plain tables for a terminal."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

__all__ = ["columns", "printable"]


def printable(text: str) -> str:
    """Return text without control characters and marks that turn the writing direction."""
    return "".join(" " if unicodedata.category(sign) in {"Cc", "Cf"} else sign for sign in text)


def columns(rows: Sequence[Sequence[str]], right: Sequence[int] = (), indent: str = "  ") -> list[str]:
    """Set rows in columns of equal width.

    Parameters
    ----------
    rows
        Cells of every row; all rows have the same number.
    right
        Columns set flush right.
    indent
        What every line begins with.
    """
    shown = [[printable(cell) for cell in row] for row in rows]
    widths = [max(map(len, column)) for column in zip(*shown, strict=True)]
    return [indent + "  ".join(_cells(row, widths, right)).rstrip() for row in shown]


def _cells(row: Sequence[str], widths: Sequence[int], right: Sequence[int]) -> list[str]:
    pairs = zip(row, widths, strict=True)
    return [cell.rjust(width) if at in right else cell.ljust(width) for at, (cell, width) in enumerate(pairs)]
