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
    """Writers of the two reports; None where none can be written here."""

    result: Callable[[Answers, Path], None] | None = None
    comparison: Callable[[CompareResult, Path], None] | None = None
