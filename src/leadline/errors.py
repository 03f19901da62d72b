"""What can go wrong, as a tree.

LeadlineError
├── StudyError          the study cannot be used as written; carries every issue found
├── SamplingError       laws or dependence that no draw can satisfy
├── RunError            a run could not be carried out
│   ├── WorkerLost      workers died and the work could not be placed again
│   │   └── NoWorkers   there was none for too long, which is not the work's fault
│   └── Unreachable     a scheduler or server did not answer
└── OutputError         a result could not be written or read back
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = [
    "Issue",
    "LeadlineError",
    "NoWorkers",
    "OutputError",
    "Path",
    "RunError",
    "SamplingError",
    "StudyError",
    "Unreachable",
    "WorkerLost",
]

Path = tuple[str | int, ...]
"""Where in a study a value stands: mapping keys and list positions from the top."""


@dataclass(frozen=True, slots=True)
class Issue:
    """One thing wrong with a study, said so that the reader can put it right.

    Parameters
    ----------
    path
        Where it stands, as keys and list positions.
    message
        What is wrong, with the value given and the bound it broke.
    remedy
        What to write instead.
    code
        A short stable word for programs, such as ``unknown-key``.
    line, column
        Where in the file, counted from 1; None where the study did not come from a file.
    """

    path: Path
    message: str
    remedy: str
    code: str
    line: int | None = None
    column: int | None = None

    def __str__(self) -> str:
        place = ".".join(str(step) for step in self.path) or "the study"
        line = "" if self.line is None else f"line {self.line}, column {self.column}: "
        return f"{line}{place}: {self.message} {self.remedy}"


class LeadlineError(Exception):
    """Anything that leadline reports to its user."""


class StudyError(LeadlineError):
    """A study cannot be used as written.

    Parameters
    ----------
    issues
        Everything found, in document order; never empty.
    """

    def __init__(self, issues: Sequence[Issue]) -> None:
        self.issues = tuple(issues)
        super().__init__("\n".join(str(issue) for issue in self.issues))

    def __reduce__(self) -> tuple[type[StudyError], tuple[tuple[Issue, ...]]]:
        return type(self), (self.issues,)


class SamplingError(LeadlineError):
    """Laws or dependence that no draw can satisfy."""


class RunError(LeadlineError):
    """A run could not be carried out."""


class WorkerLost(RunError):
    """Workers died and the work could not be placed again."""


class NoWorkers(WorkerLost):
    """There was no worker for too long, which is not the work's fault."""


class Unreachable(RunError):
    """A scheduler or server did not answer."""


class OutputError(LeadlineError):
    """A result could not be written or read back."""
