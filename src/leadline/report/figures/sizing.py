"""The value of one number that gives the wanted chance: the chance over it, with the answer marked."""

from __future__ import annotations

from collections.abc import Sequence

from leadline.report.figures.curve import Curve, Mark, Tried, curve_spec
from leadline.report.panel import Cell, Panel, Table
from leadline.report.scales import scale_for
from leadline.report.wording import amount, clipped, count, level, share
from leadline.risk.words import Rounding
from leadline.run.answers import SizingPoint, SizingResult

__all__ = ["sizing_panels"]


def sizing_panels(sizings: Sequence[SizingResult]) -> tuple[Panel, ...]:
    """Return a panel for every number sized."""
    return tuple(_panel(number, sizing) for number, sizing in enumerate(sizings, start=1))


def _panel(number: int, sizing: SizingResult) -> Panel:
    unit = sizing.number.unit
    scale = scale_for((sizing.low, sizing.high), unit)
    answer = Mark(sizing.best, f"best, {amount(sizing.best, unit, 4)}")
    if sizing.answer is not None:
        answer = Mark(sizing.answer, amount(sizing.answer, unit, 4))
    points = [
        Tried(point.value, point.low, point.succeeded / point.cases, point.high, _shown(sizing, point))
        for point in sizing.points
    ]
    return Panel(
        name=f"sizing.{sizing.number.place}",
        div_id=f"sizing-{number}",
        title=clipped(f"Sizing {sizing.number.called}", 70),
        sentence=_sentence(sizing),
        spec=curve_spec(Curve(sizing.number.called, points, sizing.asked, sizing.met, answer), scale),
        table=_table(sizing),
    )


def _shown(sizing: SizingResult, point: SizingPoint) -> bool:
    return any(low <= point.value <= high for low, high in sizing.met)


def _sentence(sizing: SizingResult) -> str:
    said = sizing.sentence.removeprefix(f"{sizing.study.title}: ")
    cases = count(sizing.points[0].cases) if sizing.points else "no"
    where = "the bar below is the range that does" if sizing.met else "no value tried does"
    return (
        f"{clipped(said[:1].upper() + said[1:], 420)} Filled dots show {level(sizing.asked)} with "
        f"{level(sizing.confidence)} confidence over {cases} cases each; {where}."
    )


def _table(sizing: SizingResult) -> Table:
    rows = [
        (
            Cell(amount(point.value, sizing.number.unit, 5)),
            Cell(share(point.succeeded / point.cases), point.succeeded / point.cases),
            Cell(share(point.low, Rounding.DOWN), point.low),
            Cell(share(point.high, Rounding.UP), point.high),
            Cell("yes" if _shown(sizing, point) else "no"),
            Cell(max(point.failures, key=lambda name: point.failures[name], default="")),
        )
        for point in sizing.points
    ]
    bound = f"at {level(sizing.confidence)} confidence"
    return Table(
        (sizing.number.called, "chance", f"at least, {bound}", f"at most, {bound}", "shown", "fails most"), tuple(rows)
    )
