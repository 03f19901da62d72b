"""The progress bar, on a terminal only."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from leadline.run.engine import Progress
    from leadline.run.result import Chance

__all__ = ["progress_shown"]


def _nothing(_: Progress) -> None:
    pass


@contextmanager
def progress_shown(*, quiet: bool) -> Iterator[Callable[[Progress], None]]:
    """Give what to tell progress to; a bar where standard error is a terminal and talk is wanted."""
    if quiet or not sys.stderr.isatty():
        yield _nothing
        return
    from rich.console import Console
    from rich.progress import BarColumn, TaskProgressColumn, TextColumn
    from rich.progress import Progress as Bar

    console = Console(stderr=True)
    said = TextColumn("{task.fields[said]}")
    with Bar(BarColumn(), TaskProgressColumn(), said, console=console, transient=True) as bar:
        task = bar.add_task("", total=None, said="")

        def show(progress: Progress) -> None:
            bar.update(task, completed=progress.cases, total=progress.wanted, said=_said(progress))

        yield show


def _said(progress: Progress) -> str:
    left = "" if progress.left_s is None else f", {_time(progress.left_s)} left"
    done = f"{progress.cases:,}".replace(",", " ")
    return f"{done} cases, {_rate(progress.rate_per_s)}{left}{_known(progress.chance)}"


def _known(chance: Chance | None) -> str:
    if chance is None:
        return ""
    return f"; chance {100 * chance.value:.2f} % ± {50 * (chance.high - chance.low):.2g}"


def _rate(per_s: float) -> str:
    return f"{per_s / 1e6:.2f} million/s" if per_s >= 1e6 else f"{per_s / 1e3:.0f} thousand/s"


def _time(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes:02} min" if hours else f"{minutes} min {rest:02} s" if minutes else f"{rest} s"
