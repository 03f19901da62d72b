"""Where a run stands, as the store keeps it and readers are told."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from leadline.run.engine import Progress
from leadline_service.jobs.metrics import JobMetrics

__all__ = ["CHANCE", "Telling"]

CHANCE = "chance"


class Telling:
    """Makes the document of a run's progress.

    ``answer`` is what is being computed, of all in ``stages``; ``cases`` of ``wanted`` are done of it, at
    ``rate_per_s``, for ``elapsed_s``, with about ``left_s`` to go (null until known); ``chance`` is the chance as known
    so far (null before the first block).

    Parameters
    ----------
    stages
        What the run goes through, in order, such as ``("chance", "drivers", "sizing-1", "files")``.
    tell
        Takes each document.
    metrics
        Told of cases computed.
    """

    def __init__(self, stages: tuple[str, ...], tell: Callable[[Mapping[str, Any]], None], metrics: JobMetrics) -> None:
        self._stages, self._tell, self._metrics = stages, tell, metrics
        self._stage = stages[0]
        self._counted = 0
        self._chance: dict[str, Any] | None = None

    def begin(self, stage: str, done: int = 0) -> None:
        """Say that a stage begins, of which so many cases need not be computed."""
        self._stage, self._counted = stage, done
        self._put(cases=done, wanted=0, elapsed_s=0.0, rate_per_s=0.0, left_s=None)

    def progress(self, at: Progress) -> None:
        """Say how far the stage is."""
        self._metrics.cases.inc(max(0, at.cases - self._counted))
        self._counted = at.cases
        if at.chance is not None and self._stage == CHANCE:
            self._chance = at.chance.model_dump(mode="json")
        self._put(
            cases=at.cases,
            wanted=at.wanted,
            elapsed_s=round(at.elapsed_s, 3),
            rate_per_s=round(at.rate_per_s, 1),
            left_s=None if at.left_s is None else round(at.left_s, 3),
        )

    def _put(self, **values: Any) -> None:
        self._tell({"answer": self._stage, "stages": list(self._stages), **values, "chance": self._chance})
