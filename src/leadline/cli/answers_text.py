"""Sizing, sweeps and rare failures as lines for a terminal: the sentence first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from leadline.cli.account_text import note_lines
from leadline.cli.tables import columns, printable
from leadline.units import humanise

if TYPE_CHECKING:
    from leadline.run.answers import NumberLabel, RareFailure, RareResult, SizingPoint, SizingResult, SweepResult

__all__ = ["rare_text", "sizing_text", "sweep_text"]

POINTS_SHOWN = 15
COLUMNS_SHOWN = 12


def sizing_text(found: SizingResult) -> str:
    """Return the value that gives the wanted chance, and what was tried."""
    from leadline.risk import words

    shown = _thinned(found.points)
    heads = (found.number.called, "chance", f"at {words.level(found.confidence)} confidence", "shown", "fails most")
    rows = [heads, *(_point_row(point, found) for point in shown)]
    left = len(found.points) - len(shown)
    lines = [
        printable(found.sentence),
        "",
        *columns(rows, right=(0, 1)),
        *([f"  and {left} more values tried"] if left else []),
        *note_lines(found.notes),
        "",
        f"{words.count(found.points[0].cases)} cases for each value, on the same draws; {_seed(found)}",
    ]
    return "\n".join(lines)


def _seed(found: SizingResult | SweepResult | RareResult) -> str:
    return f"seed {found.seed}; study {found.study.digest[:12]}."


def _thinned(points: Sequence[SizingPoint]) -> list[SizingPoint]:
    """Return some of the points spread over all, both ends among them."""
    if len(points) <= POINTS_SHOWN:
        return list(points)
    step = (len(points) - 1) / (POINTS_SHOWN - 1)
    return [points[round(step * place)] for place in range(POINTS_SHOWN)]


def _point_row(point: SizingPoint, found: SizingResult) -> tuple[str, ...]:
    from leadline.risk import words

    worst = max(point.failures, key=lambda name: point.failures[name], default="")
    bounds = _bounds(point.low, point.high)
    met = "yes" if any(low <= point.value <= high for low, high in found.met) else ""
    return _value(point.value, found.number), words.share(point.succeeded / point.cases), bounds, met, worst


def _value(value: float, number: NumberLabel) -> str:
    return humanise(value, number.unit, 5)


def _bounds(low: float, high: float) -> str:
    from leadline.risk import words
    from leadline.risk.words import Rounding

    return f"{words.share(low, Rounding.DOWN)} to {words.share(high, Rounding.UP)}"


def sweep_text(found: SweepResult) -> str:
    """Return the chance over one or two numbers; ``*`` marks where the wanted chance is shown."""
    from leadline.risk import words

    table = _line(found) if len(found.axes) == 1 else _grid(found)
    lines = [
        printable(found.sentence),
        "",
        *table,
        *note_lines(found.notes),
        "",
        f"* {words.level(found.asked)} is shown with {words.level(found.confidence)} confidence.",
        f"{words.count(found.cases)} cases for each value, on the same draws; {_seed(found)}",
    ]
    return "\n".join(lines)


def _mark(found: SweepResult, place: int) -> str:
    from leadline.risk import words

    star = "*" if found.low[place] >= found.asked else " "
    return f"{words.share(found.succeeded[place] / found.cases)} {star}"


def _line(found: SweepResult) -> list[str]:
    (only,) = found.axes
    rows = [
        (_value(value, only.number), _mark(found, place), _bounds(found.low[place], found.high[place]))
        for place, value in enumerate(only.values)
    ]
    return columns([(only.number.called, "chance  ", "bounds"), *rows], right=(0, 1))


def _grid(found: SweepResult) -> list[str]:
    """Return rows for the first number and columns for the second, as many as fit a terminal."""
    first, second = found.axes
    across = len(second.values)
    step = -(-across // COLUMNS_SHOWN)
    kept = range(0, across, step)
    head = ("", *(f"{_value(second.values[at], second.number)}  " for at in kept))
    rows = [
        (_value(value, first.number), *(_mark(found, across * place + at) for at in kept))
        for place, value in enumerate(first.values)
    ]
    said = printable(f"  Down: {first.number.called}. Across: {second.number.called}.")
    return [said, *columns([head, *rows], right=tuple(range(len(head))))]


def rare_text(found: RareResult) -> str:
    """Return how likely rare failures are: each requirement with every estimate made."""
    from leadline.risk import words

    heads = ("failing", "chance", "95 % interval", "by", "variation", "cases")
    rows = [heads, *(row for failure in found.failures for row in _rare_rows(failure))]
    unquoted = [printable(f"  {each.sentence}") for each in found.failures if each.quoted is None]
    return "\n".join(
        [
            printable(found.sentence),
            "",
            *columns(rows, right=(1, 4, 5)),
            *(["", "Where no estimate is to be relied on:", *unquoted] if unquoted else []),
            "",
            f"Coefficient of variation to reach {words.level(found.target_variation)}; {_seed(found)}",
        ]
    )


def _rare_rows(failure: RareFailure) -> Iterator[tuple[str, ...]]:
    from leadline.risk import words
    from leadline.risk.rare_answer import chance_text
    from leadline.risk.words import Rounding

    if not failure.estimates:
        yield failure.output, "", failure.state, "", "", words.count(failure.calls)
    for place, each in enumerate(failure.estimates):
        low, high = chance_text(each.chance.low, Rounding.DOWN), chance_text(each.chance.high, Rounding.UP)
        yield (
            "" if place else failure.output,
            chance_text(each.chance.value),
            f"{low} to {high}",
            each.method + (" (quoted)" if each == failure.quoted and len(failure.estimates) > 1 else ""),
            f"{100 * each.coefficient_of_variation:.2g} %",
            words.count(each.calls),
        )
