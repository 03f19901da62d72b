"""The states of a run, and the moves between them."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from leadline.errors import LeadlineError

__all__ = ["ENDED", "LEASED", "MOVES", "MoveRefused", "RunState", "move"]


class RunState(StrEnum):
    """Where a run stands."""

    QUEUED = "queued"
    RUNNING = "running"
    STOPPING = "stopping"
    """To be ended with what is done; by its owner, or by whoever claims it next."""
    FINISHED = "finished"
    FAILED = "failed"
    CANCELLED = "cancelled"


MOVES: Mapping[RunState, frozenset[RunState]] = {
    # Cancelled while it waits: at once, or by way of stopping when an earlier try has kept blocks to report on.
    RunState.QUEUED: frozenset({RunState.RUNNING, RunState.STOPPING, RunState.CANCELLED}),
    RunState.RUNNING: frozenset({RunState.QUEUED, RunState.STOPPING, RunState.FINISHED, RunState.FAILED}),
    # A run asked to stop may have been done at that very moment.
    RunState.STOPPING: frozenset({RunState.CANCELLED, RunState.FINISHED, RunState.FAILED}),
    RunState.FINISHED: frozenset(),
    RunState.FAILED: frozenset(),
    RunState.CANCELLED: frozenset(),
}
"""From each state, where a run may go."""

ENDED = frozenset(state for state, onward in MOVES.items() if not onward)
"""States a run never leaves."""

LEASED = frozenset({RunState.RUNNING, RunState.STOPPING})
"""States in which somebody may hold the run."""


class MoveRefused(LeadlineError):
    """A run cannot go from one state to another.

    Parameters
    ----------
    before, after
        From where to where it was to go.
    """

    def __init__(self, before: RunState, after: RunState) -> None:
        self.before, self.after = before, after
        onward = ", ".join(sorted(MOVES[before])) or "nowhere"
        super().__init__(f"a run that is {before} cannot become {after}; from there it goes to: {onward}")


def move(before: RunState, after: RunState) -> RunState:
    """Return the state after a move.

    Raises
    ------
    MoveRefused
        There is no such move.
    """
    if after not in MOVES[before]:
        raise MoveRefused(before, after)
    return after
