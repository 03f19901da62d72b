"""Rare failures, sought after a run with ``--rare``."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leadline.cli.interrupts import stoppable
from leadline.cli.progress import progress_shown

if TYPE_CHECKING:
    from leadline.run.answers import RareResult
    from leadline.study import Study

__all__ = ["find_rare"]


def find_rare(study: Study, variation: float, seed: int, *, quiet: bool) -> RareResult:
    """Find how likely rare failures are, with progress shown and Ctrl-C heeded."""
    from leadline.run.engine import Control
    from leadline.run.rare import RareRequest, rare

    with stoppable() as stop, progress_shown(quiet=quiet) as progress:
        control = Control(progress=progress, stopped=stop.is_set)
        return rare(study, RareRequest(variation=variation, seed=seed), control)
