"""An answer sought with progress shown, which Ctrl-C may leave without anything to show."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

from leadline.cli.exits import talk
from leadline.cli.interrupts import stoppable
from leadline.cli.progress import progress_shown

if TYPE_CHECKING:
    from leadline.run.engine import Control

__all__ = ["unless_stopped"]

T = TypeVar("T")


def unless_stopped(seek: Callable[[Control], T], *, quiet: bool) -> T | None:
    """Seek an answer; None, said so, when stopped before there was one."""
    from leadline.errors import RunError
    from leadline.run.engine import Control

    with stoppable() as stop, progress_shown(quiet=quiet) as progress:
        try:
            return seek(Control(progress=progress, stopped=stop.is_set))
        except RunError:
            if not stop.is_set():
                raise
            talk("Interrupted; nothing was finished.")
            return None
