"""What drives the risk, as lines for a terminal: the sentence first, then what each change buys."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from leadline.cli.account_text import note_lines
from leadline.cli.tables import columns, printable

if TYPE_CHECKING:
    from leadline.run.answers import BuyDownRow, DriverRow, DriversOf, DriversResult, ShapleyOf
    from leadline.run.first_result import ShiftRow, ShiftsOf

__all__ = ["drivers_text", "points", "shift_lines"]

CHANGES_SHOWN = 12
DRIVERS_SHOWN = 5
LEAST_NAMED = 0.005
SHIFTS_SHOWN = 5


def drivers_text(found: DriversResult) -> str:
    """Return what drives the risk."""
    from leadline.risk import words

    lines = [
        printable(found.sentence),
        *_buy_down_lines(found),
        *_failure_lines(found),
        *_margin_lines(found),
        *shift_lines(found.shifts),
        *_shapley_lines(found.shapley),
        *note_lines(found.notes),
        "",
        f"{words.count(found.buy_down_cases)} cases for what each change buys.",
        f"{words.count(found.cases)} pairs of cases, {words.count(found.evaluations)} flown, for the indices.",
        f"Seed {found.seed}; study {found.study.digest[:12]}.",
    ]
    return "\n".join(lines)


def points(value: float) -> str:
    """Return a difference in chance in percentage points."""
    return f"{100 * value:+.3g}"


def _buy_down_lines(found: DriversResult) -> list[str]:
    if not found.buy_down:
        return ["", "No number of the study is dispersed, so no change buys anything."]
    told = [row for row in found.buy_down if row.distinguishable]
    rows = [("points", "95 % interval", "rank", "change"), *(_buy_down_row(row) for row in told[:CHANGES_SHOWN])]
    left, unsure = len(told) - CHANGES_SHOWN, len(found.buy_down) - len(told)
    more = [f"  and {left} more"] if left > 0 else []
    rest = [f"  {unsure} further changes make no difference that the cases can show."] if unsure else []
    return ["", "What each change buys, on the same draws:", *columns(rows, right=(0,)), *more, *rest]


def _buy_down_row(row: BuyDownRow) -> tuple[str, ...]:
    interval = f"{points(row.gain.low)} to {points(row.gain.high)}"
    best, worst = row.rank
    return points(row.gain.value), interval, f"{best}" if best == worst else f"{best} to {worst}", row.change


def _failure_lines(found: DriversResult) -> list[str]:
    """Return the whole's failure in full; a requirement's by its own heading where it has indices."""
    failures = [each for each in found.outputs if each.kind == "failure"]
    return [line for each in failures[-1:] for line in _output_lines(each)]


def _output_lines(given: DriversOf) -> list[str]:
    if given.reason is not None:
        return ["", printable(f"Drivers of failing {given.output}: {given.reason}")]
    told = [row for row in given.drivers if row.distinguishable][:DRIVERS_SHOWN]
    rows = [("total index", "95 % interval", "rank", "number"), *(_driver_row(row) for row in told)]
    return ["", printable(f"Drivers of failing {given.output}:"), *columns(rows, right=(0,))]


def _driver_row(row: DriverRow) -> tuple[str, ...]:
    best, _, worst = row.rank
    rank = f"{best}" if best == worst else f"{best} to {worst}"
    return f"{row.total.value:.3f}", f"{row.total.low:.3f} to {row.total.high:.3f}", rank, row.called


def _margin_lines(found: DriversResult) -> list[str]:
    margins = [each for each in found.outputs if each.kind == "margin" and each.reason is None]
    rows = [(each.output, _largest(each.drivers)) for each in margins]
    return ["", "Largest drivers of each margin (total index):", *columns(rows)] if rows else []


def _largest(drivers: Sequence[DriverRow]) -> str:
    told = [row for row in drivers if row.distinguishable and row.total.value >= LEAST_NAMED][:3]
    return "; ".join(f"{row.called} {row.total.value:.2f}" for row in told) or "none that can be told"


def shift_lines(shifts: Sequence[ShiftsOf]) -> list[str]:
    """Return how failing cases differ, for failing any requirement."""
    if not shifts:
        return []
    whole = shifts[-1]
    told = [row for row in whole.shifts if row.distinguishable][:SHIFTS_SHOWN]
    if whole.reason is not None or not told:
        return []
    rows = [("", "standard deviations", "95 % interval"), *(_shift_row(row) for row in told)]
    heading = f"How the {whole.failures} failing of the first {whole.cases} cases differ:"
    return ["", heading, *columns(rows, right=(1,))]


def _shift_row(row: ShiftRow) -> tuple[str, str, str]:
    said = f"{row.called} is {row.direction}"
    return said, f"{row.shift.value:+.2f}", f"{row.shift.low:+.2f} to {row.shift.high:+.2f}"


def _shapley_lines(shapley: Sequence[ShapleyOf]) -> list[str]:
    """Return the Shapley effects on failing, of the whole, or why there are none."""
    whole = [each for each in shapley if each.kind == "failure"][-1:]
    lines: list[str] = []
    for each in whole:
        if each.reason is not None:
            lines += ["", printable(f"Shapley effects on failing {each.output}: {each.reason}")]
            continue
        rows = [
            (f"{row.effect.value:.3f}", f"{row.effect.low:.3f} to {row.effect.high:.3f}", row.input)
            for row in sorted(each.effects, key=lambda row: -row.effect.value)
        ]
        heading = printable(f"Shapley effects on failing {each.output}, which sum to one:")
        lines += ["", heading, *columns([("effect", "95 % interval", "number"), *rows], right=(0,))]
    return lines
