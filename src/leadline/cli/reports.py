"""Who writes reports: handed in from above, for the command line draws nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from leadline.run.answer_files import Answers
    from leadline.run.result import CompareResult

__all__ = ["Reports"]


@dataclass(frozen=True, slots=True)
class Reports:
    """Writers of the two reports, and makers of other forms of the first; None for what cannot be had here.

    Parameters
    ----------
    result, comparison
        Write a report to a path.
    short
        Makes the text of the report on one page.
    tables, figures
        Make the texts of files by name: every table, every figure.
    """

    result: Callable[[Answers, Path], None] | None = None
    comparison: Callable[[CompareResult, Path], None] | None = None
    short: Callable[[Answers], str] | None = None
    tables: Callable[[Answers], dict[str, str]] | None = None
    figures: Callable[[Answers], dict[str, str]] | None = None
