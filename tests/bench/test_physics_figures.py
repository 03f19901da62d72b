"""Speed of the physics against what is promised; nothing here fails because a machine is slow."""

from __future__ import annotations

import statistics
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np

from bench.everything import EVERYTHING, Budget
from bench.timing import ratio, seconds

Figure = Callable[[str, str, str], None]
BLOCKS = 12


def test_everything_on_against_the_reference_budget(figure: Figure) -> None:
    reference, everything = Budget.reference(), Budget.of(EVERYTHING)
    cases = BLOCKS * everything.size
    took, bare, over = ratio(lambda: everything.run(BLOCKS), lambda: reference.run(BLOCKS), rounds=15)
    measured = f"1/{1 / over:.1f} ({took / cases * 1e9:.0f} and {bare / cases * 1e9:.0f} ns a case)"
    figure("rate with everything on over that of the reference", ">= 1/10", measured)
    summary = everything.run(2)
    assert summary.cases == 2 * everything.size
    assert summary.invalid == 0


def test_where_the_time_goes_with_everything_on(figure: Figure) -> None:
    budget = Budget.of(EVERYTHING)
    parts: dict[str, list[float]] = {"draw": [], "fly": [], "sum up": []}
    for block in range(15):
        parts["draw"].append(seconds(lambda: budget.draw(block)))  # noqa: B023  called before the block changes
        parts["fly"].append(seconds(budget.fly))
        outcome = budget.fly()
        parts["sum up"].append(seconds(lambda: budget.sum_up(outcome)))  # noqa: B023  the same
    medians = {part: statistics.median(times) / budget.size * 1e9 for part, times in parts.items()}
    told = ", ".join(f"{part} {time:.0f}" for part, time in medians.items())
    figure(f"{len(budget.draws)} inputs, everything on, ns a case", "none", told)
    assert np.isfinite(budget.fly().margins).all()


def test_everything_on_from_cold(figure: Figure, tmp_path: Path) -> None:
    program = [sys.executable, "-m", "leadline", "run", str(EVERYTHING), "--cases", "100000"]

    def cold(number: int) -> float:
        command = [*program, "--out", str(tmp_path / str(number))]
        return seconds(lambda: subprocess.run(command, check=True, capture_output=True))

    took = statistics.median(cold(number) for number in range(3))
    figure("everything on, 100 000 cases from cold, report written", "<= 3 s", f"{took:.2f} s")
    assert (tmp_path / "0" / "report.html").exists()
