"""Options side by side: their chances, and their paired differences from the base."""

from __future__ import annotations

from collections.abc import Sequence

from leadline.report.figures.intervals import IntervalRow, interval_spec
from leadline.report.panel import Cell, Panel, Table
from leadline.report.wording import bare, chance, count, difference, quoted, share
from leadline.run.result import Chance, CompareResult, Difference, OptionResult

__all__ = ["compare_panels", "option_name"]


def option_name(option: OptionResult) -> str:
    """Return an option's name; the base study is called that."""
    return "the base study" if option.name is None else option.name


def compare_panels(comparison: CompareResult) -> tuple[Panel, ...]:
    """Return the panel of chances and, where there is an option, that of differences."""
    if not comparison.options:
        return ()
    different = [option for option in comparison.options if option.difference is not None]
    chances = _chances(comparison.options)
    return (chances, _differences(different)) if different else (chances,)


def _chances(options: Sequence[OptionResult]) -> Panel:
    best = max(options, key=lambda option: option.chance.value)
    sentence = (
        f"Of {count(len(options))} ways to fly it on the same draws, {quoted(option_name(best))} "
        f"closes most often: {chance(best.chance)}. A ring is a chance, the bar through it its interval; the dashed "
        "line is the base study."
    )
    rows = [_row(option, option.chance) for option in options]
    base = next((option.chance.value for option in options if option.name is None), None)
    return Panel(
        name="compare.chances",
        div_id="compare-chances",
        title="The chance that everything holds",
        sentence=sentence,
        spec=interval_spec(rows, "chance, %", None if base is None else 100 * base),
        table=_chance_table(options),
    )


def _differences(options: Sequence[OptionResult]) -> Panel:
    rows = [_row(option, option.difference) for option in options if option.difference is not None]
    settled = sum(row.told for row in rows)
    sentence = (
        f"Difference in chance from the base study, on the same draws: for {count(settled)} "
        f"of {count(len(rows))} the interval leaves zero out, so the sign is settled."
    )
    return Panel(
        name="compare.differences",
        div_id="compare-differences",
        title="What each option changes",
        sentence=sentence,
        spec=interval_spec(rows, "difference in chance, percentage points", 0.0),
        table=_difference_table(options),
    )


def _row(option: OptionResult, given: Chance | Difference) -> IntervalRow:
    told = isinstance(given, Chance) or given.low > 0 or given.high < 0
    low, value, high = (100 * end for end in (given.low, given.value, given.high))
    return IntervalRow(option_name(option), low, value, high, bare(given), told=told)


def _chance_table(options: Sequence[OptionResult]) -> Table:
    rows = []
    for option in options:
        first = option.first_failure
        rows.append(
            (
                Cell(option_name(option)),
                Cell(chance(option.chance), option.chance.value),
                Cell(count(option.cases.total), option.cases.total),
                Cell("none" if first is None else first.requirement),
                Cell("" if first is None else f"{share(first.share)} of its failures"),
            )
        )
    return Table(("option", "chance", "cases", "most often fails first on", "in"), tuple(rows))


def _difference_table(options: Sequence[OptionResult]) -> Table:
    rows = []
    for option in options:
        given = option.difference
        if given is not None:
            ends = (given.both, given.option_only, given.base_only, given.neither)
            rows.append(
                (
                    Cell(option_name(option)),
                    Cell(difference(given), given.value),
                    *(Cell(count(cases), cases) for cases in ends),
                )
            )
    headers = ("option", "difference", "both close", "option only", "base only", "neither")
    return Table(headers, tuple(rows))
