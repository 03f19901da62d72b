"""What a report is made of, in reading order: sections with their sentences, figures and tables."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from leadline.report.figures.buy_down import buy_down_panels
from leadline.report.figures.drivers import driver_panels, driver_reasons, driver_table, share_table
from leadline.report.figures.failures import combination_table, failure_panels
from leadline.report.figures.ledger import ledger_panels
from leadline.report.figures.margins import margin_panels
from leadline.report.figures.rare import rare_panels
from leadline.report.figures.settling import settling_panels
from leadline.report.figures.shifts import shift_panels, shift_table
from leadline.report.figures.sizing import sizing_panels
from leadline.report.figures.sweep import sweep_panels
from leadline.report.figures.unknowns import unknown_panels
from leadline.report.panel import Panel, Table
from leadline.report.wording import count
from leadline.run.answer_files import Answers
from leadline.run.answers import DriversResult, RareResult
from leadline.run.dispersed import called, place_of
from leadline.run.first_result import SharesOf, ShiftsOf
from leadline.run.result import Result

__all__ = ["Section", "Titled", "sections_of"]


@dataclass(frozen=True, slots=True)
class Titled:
    """A table under a line that says what it shows; `stacked` if a phone shows its rows one below the other."""

    says: str
    table: Table
    stacked: bool = True


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the page.

    Parameters
    ----------
    name
        Its identifier on the page.
    title
        Its heading.
    facts
        What is said before the figures, in small print.
    panels
        Its figures.
    single
        Whether figures stand one below the other, for those with long names.
    tables
        Tables after the figures.
    key
        Whether the sign for hatching is explained beside the facts.
    """

    name: str
    title: str
    facts: tuple[str, ...] = ()
    panels: tuple[Panel, ...] = ()
    single: bool = True
    tables: tuple[Titled, ...] = ()
    key: bool = False


def sections_of(answers: Answers) -> tuple[Section, ...]:
    """Return the sections with anything in them; the requirement table and the small print are the page's own."""
    found = answers.drivers
    parts = [] if found is None else [_buy_down(found)]
    parts += [] if answers.result is None else _of_result(answers.result)
    parts += [_drivers(found)] if found is not None else _shares(answers.result)
    parts += [*_shifts(answers), *_asked(answers), *_unknowns(answers.result)]
    return tuple(parts)


def _of_result(result: Result) -> list[Section]:
    margins, ledger = margin_panels(result), ledger_panels(result)
    parts = []
    if margins:
        facts = (
            "Cases short of the bound are hatched",
            "Under each outline, a ring marks the median and the bar holds 90 of 100 cases.",
        )
        parts.append(Section("margins", "How the margins are spread", facts, margins, single=False, key=True))
    if ledger:
        read = (
            "Read downwards. A ring marks the median after a leg, the bar and the band hold 90 of 100 cases; taken "
            f"from the first {count(result.ledger_cases)}."
        )
        parts.append(Section("ledger", "Along the mission, leg by leg", (read,), ledger, single=False))
    settling = settling_panels(result)
    looks = (Section("settling", "How the chance settled", (), settling),) if settling else ()
    return [*parts, _failures(result), *looks]


def _failures(result: Result) -> Section:
    panels, combinations = failure_panels(result), combination_table(result)
    together = "Which requirements fail in the same case, the commonest first:"
    return Section(
        "failures",
        "What fails first, and what fails together",
        () if panels else ("No case failed a requirement.",),
        panels,
        tables=(Titled(together, combinations, stacked=False),) if panels and combinations.rows else (),
    )


def _buy_down(drivers: DriversResult) -> Section:
    stopped = ("This was stopped early; what is shown rests on the cases done.",) if drivers.partial else ()
    nothing = () if drivers.buy_down else ("Nothing in the study is dispersed, so no change buys anything.",)
    flown = (
        f"Every change was flown on the same {count(drivers.buy_down_cases)} cases (seed {drivers.seed}), one at a "
        "time. A spread is halved about the middle of its law; a nominal is moved by one standard deviation."
    )
    return Section(
        "buy-down", "What would raise the chance", (*stopped, *(nothing or (flown,))), buy_down_panels(drivers)
    )


def _drivers(drivers: DriversResult) -> Section:
    table = driver_table(drivers)
    says = "The largest drivers of each requirement, with their total indices:"
    facts = (
        f"From {count(drivers.cases)} pairs of cases, {count(drivers.evaluations)} flown in all (seed {drivers.seed}).",
        *driver_reasons(drivers),
    )
    return Section(
        "drivers",
        "What drives the risk",
        facts,
        driver_panels(drivers),
        tables=(Titled(says, table),) if table.rows else (),
    )


def _shares(result: Result | None) -> Iterator[Section]:
    if result is None or not any(each.shares for each in result.shares):
        return
    facts = (f"Read off the first {count(_cases(result.shares))} cases of the run, at no further flight.",)
    says = (
        "The share of a margin's variance that goes with a number, between 0 and 1; drivers of failing, and what each "
        "change would buy, are further answers."
    )
    yield Section("shares", "What the margins move with", facts, tables=(Titled(says, share_table(result.shares)),))


def _cases(shares: tuple[SharesOf, ...]) -> int:
    return max(each.cases for each in shares)


def _shifts(answers: Answers) -> Iterator[Section]:
    shifts = _best_shifts(answers)
    panels = shift_panels(shifts)
    if not panels:
        return
    table = shift_table(shifts)
    says = "In the cases that fail one requirement, with shifts in standard deviations:"
    tables = (Titled(says, table),) if table.rows else ()
    yield Section("shifts", "What failing cases have in common", (), panels, tables=tables)


def _best_shifts(answers: Answers) -> tuple[ShiftsOf, ...]:
    """Return the shifts from the most cases."""
    if answers.drivers is not None and answers.drivers.shifts:
        return answers.drivers.shifts
    return () if answers.result is None else answers.result.shifts


def _asked(answers: Answers) -> Iterator[Section]:
    if answers.sizings:
        facts = ("The same draws are flown for every value.",)
        yield Section("sizings", "Sizing", facts, sizing_panels(answers.sizings))
    if answers.sweeps:
        facts = ("The same draws are flown for every value.",)
        yield Section("sweeps", "The chance over other values", facts, sweep_panels(answers.sweeps))
    if answers.rare is not None:
        yield _rare(answers.rare)


def _rare(rare: RareResult) -> Section:
    stopped = ("This was stopped early; what was not ready is marked so.",) if rare.partial else ()
    panels = rare_panels(rare)
    nothing = () if panels else tuple(each.sentence for each in rare.failures)
    return Section("rare-failures", "Rare failures", (*stopped, *nothing), panels)


def _unknowns(result: Result | None) -> Iterator[Section]:
    if result is None or result.unknowns is None:
        return
    named = "; ".join(called(place) for place in dict.fromkeys(map(place_of, result.unknowns.inputs)))
    facts = (f"Fixed, and only not known yet: {named}. Everything else differs from flight to flight.",)
    yield Section("not-known", "Two kinds of not knowing", facts, unknown_panels(result.unknowns))
