"""Who does the work: anything that maps a task over ranges of cases."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Protocol, TypeVar

__all__ = ["Executor", "InProcess", "Stopped", "Task"]

T = TypeVar("T")
T_co = TypeVar("T_co", covariant=True)

Stopped = Callable[[], bool]
"""Asked between blocks: True when the work should end early and hand in what it has."""


class Task(Protocol[T_co]):
    """A picklable piece of work over a range of cases, the same wherever it is computed."""

    def __call__(self, cases: range, stopped: Stopped) -> tuple[range, T_co]:
        """Compute the cases, which start on a block, and say which of them were done.

        At least the first block is done; `stopped` is asked before each further one.
        """
        ...


class Executor(Protocol):
    """Maps a task over ranges of cases, in any order, a bounded number at a time."""

    @property
    def workers(self) -> int:
        """How many tasks run at once."""
        ...

    @property
    def task_s(self) -> float:
        """How long a task should take here, s."""
        ...

    def map(self, task: Task[T], ranges: Iterable[range], stopped: Stopped) -> Iterator[tuple[range, T]]:
        """Yield what is done as it finishes; once `stopped`, only what is under way.

        Raises
        ------
        WorkerLost
            Workers died and the cases named could not be placed again.
        Unreachable
            The scheduler went away.
        """
        ...

    def close(self) -> None:
        """Let go of what the executor started."""
        ...


class InProcess:
    """Does the work in the calling thread."""

    workers = 1
    task_s = 0.1

    def map(self, task: Task[T], ranges: Iterable[range], stopped: Stopped) -> Iterator[tuple[range, T]]:
        """Yield each range as it is done, in order; see `Executor.map`."""
        for cases in ranges:
            if stopped():
                return
            yield task(cases, stopped)

    def close(self) -> None:
        """Nothing was started."""
