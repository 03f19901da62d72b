"""A result and a comparison as lines for a terminal: the sentence first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from leadline.cli.account_text import note_lines
from leadline.cli.drivers_text import points, shift_lines
from leadline.cli.tables import columns, printable
from leadline.units import humanise

if TYPE_CHECKING:
    from leadline.run.result import Chance, CompareResult, FirstFailure, OptionResult, RequirementResult, Result

__all__ = ["comparison_text", "count", "result_text"]

FAILURES_SHOWN = 6


def count(number: int) -> str:
    """Return a count in groups of three digits."""
    return f"{number:,}".replace(",", " ")


def result_text(result: Result) -> str:
    """Return what a run came to."""
    rows: list[tuple[str, ...]] = [("requirement", "chance", "95 % interval", "median margin", "5 %", "95 %")]
    rows += [_requirement_row(each) for each in result.requirements]
    lines = [
        printable(result.sentence),
        "",
        *columns(rows, right=(1, 3, 4, 5)),
        *_failure_lines(result.first_failures),
        *shift_lines(result.shifts),
        "",
        result.judgement.sentence,
        *([] if result.unknowns is None else [printable(result.unknowns.sentence)]),
        *note_lines(result.notes),
        "",
        f"{count(result.cases.total)} cases, {count(result.cases.invalid)} of them invalid; {_draws(result)}",
    ]
    return "\n".join(lines)


def _draws(computed: Result | CompareResult) -> str:
    return f"seed {computed.seed}, {computed.design} draws; study {computed.study.digest[:12]}."


def _requirement_row(each: RequirementResult) -> tuple[str, ...]:
    if each.margin is None:
        return each.name, _share(each.chance), _interval(each.chance), "", "", ""
    by_fraction = {quantile.p: quantile.value for quantile in each.margin.quantiles}
    margins = (humanise(by_fraction[p], each.unit) for p in (0.5, 0.05, 0.95))
    return each.name, _share(each.chance), _interval(each.chance), *margins


def _share(chance: Chance) -> str:
    from leadline.risk import words

    return words.share(chance.value)


def _interval(chance: Chance) -> str:
    from leadline.risk import words
    from leadline.risk.words import Rounding

    return f"{words.share(chance.low, Rounding.DOWN)} to {words.share(chance.high, Rounding.UP)}"


def _failure_lines(failures: tuple[FirstFailure, ...]) -> list[str]:
    if not failures:
        return ["", "No case failed a requirement."]
    rows = [(f"{100 * each.share:.1f} %", *_where(each), f"{count(each.cases)} cases") for each in failures]
    left = len(rows) - FAILURES_SHOWN
    more = [f"  and {left} more"] if left > 0 else []
    return ["", "What fails first:", *columns(rows[:FAILURES_SHOWN], right=(0, 3)), *more]


def _where(failure: FirstFailure) -> tuple[str, str]:
    return failure.requirement, "before the first leg" if failure.leg is None else f"at {failure.leg}"


def comparison_text(compared: CompareResult) -> str:
    """Return base and options side by side."""
    rows: list[tuple[str, ...]] = [("", "chance", "95 % interval", "against the base, points", "fails first")]
    rows += [_option_row(row) for row in compared.options]
    lines = [
        printable(compared.sentence),
        "",
        *columns(rows, right=(1,)),
        *_separation_lines(compared.options),
        *note_lines(compared.notes),
        "",
        f"{count(compared.options[0].cases.total)} cases each, on the same draws; {_draws(compared)}",
    ]
    return "\n".join(lines)


def _separation_lines(options: tuple[OptionResult, ...]) -> list[str]:
    """Say for each option which requirement fails most, and which ends most differently than under the base."""
    rows = [_separation_row(row) for row in options]
    heads = ("", "fails most", "in", "separates it from the base", "points", "succeeds where the base fails")
    return ["", "Requirement by requirement:", *columns([heads, *rows], right=(2, 4))] if len(rows) > 1 else []


def _separation_row(row: OptionResult) -> tuple[str, ...]:
    from leadline.risk import words

    worst = min(row.requirements, key=lambda each: each.chance.value, default=None)
    fails = ("none", "") if worst is None or worst.chance.value == 1 else (worst.name, _failing(worst.chance))
    apart = ("", "")
    if row.separations:
        apart = row.separations[0].requirement, points(row.separations[0].difference.value)
    where = "" if row.where_base_fails is None else f"in {words.share(row.where_base_fails.value)}"
    return "base study" if row.name is None else row.name, *fails, *apart, where


def _failing(chance: Chance) -> str:
    from leadline.risk import words

    return words.share(1 - chance.value)


def _option_row(row: OptionResult) -> tuple[str, ...]:
    against = ""
    if row.difference is not None:
        low, value, high = (100 * x for x in (row.difference.low, row.difference.value, row.difference.high))
        against = f"{value:+.3g} ({low:+.3g} to {high:+.3g})"
    first = "" if row.first_failure is None else ", ".join(_where(row.first_failure))
    name = "base study" if row.name is None else row.name
    return name, _share(row.chance), _interval(row.chance), against, first
