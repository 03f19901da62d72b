"""Tables of what a study may name: laws, practice laws, units, propellants, environments, with their sources."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from leadline.constants import Source
from leadline.physics.propellants import PROPELLANTS
from leadline.physics.radiator import COATINGS, ENVIRONMENTS
from leadline.report.panel import Cell, Table
from leadline.study.law_shapes import SHAPES, Shape
from leadline.study.model_heat_requirements import AGES, in_words
from leadline.study.practice import MATURITIES, PRACTICES, Practice
from leadline.units import DIMENSIONS, Dimension

__all__ = ["LAW_EXAMPLES", "Titled", "UnitRow", "tables", "unit_rows"]

LAW_EXAMPLES: Final = {
    ("mean", "sd"): "{mean: 18.4 t, sd: 0.5 t}",
    ("mean", "sd", "at_least", "at_most"): "{mean: 18.4 t, sd: 0.5 t, at_least: 17 t}",
    ("median", "spread"): "{median: 18.4 t, spread: 1.1}",
    ("lognormal", "mean", "sd"): "{law: lognormal, mean: 18.4 t, sd: 0.5 t}",
    ("low", "high"): "{low: 17 t, high: 19 t}",
    ("low", "likely", "high", "weight"): "{low: 17 t, likely: 18 t, high: 20 t}",
    ("triangular", "low", "likely", "high"): "{law: triangular, low: 17 t, likely: 18 t, high: 20 t}",
    ("values", "chances"): "{values: [18 t, 19 t], chances: [60 %, 40 %]}",
    ("values", "unit"): "{law: data, values: [18.1, 18.4, 18.2], unit: t}",
}
"""Each law as a study writes it, by its keys, with its name before them where that must be written."""


@dataclass(frozen=True, slots=True)
class Titled:
    """A table with its heading and what it says."""

    title: str
    anchor: str
    says: str
    table: Table


@dataclass(frozen=True, slots=True)
class UnitRow:
    """A dimension with its units: each symbol, its size in SI and what defines it."""

    dimension: Dimension
    units: tuple[tuple[str, str, str], ...]


def unit_rows() -> tuple[UnitRow, ...]:
    """Return every dimension with its units."""
    return tuple(UnitRow(each, tuple(_units(each))) for each in DIMENSIONS)


def _units(dimension: Dimension) -> Iterable[tuple[str, str, str]]:
    for unit in dimension.units.values():
        size = f"{float(unit.factor):.9g} {dimension.si}".strip()
        shifted = f" (the number + {float(unit.offset):g})" if unit.offset else ""
        yield unit.symbol or "(a plain number)", f"{size}{shifted}", unit.source


def tables() -> tuple[Titled, ...]:
    """Return the tables in reading order."""
    return (
        Titled("Laws", "laws", "How a number is spread. Its keys tell the law.", _laws()),
        Titled(
            "Practice laws",
            "practice",
            "Default laws by name, for a number of known size and unknown spread: {practice: NAME, nominal: 447 s}.",
            _practices(),
        ),
        Titled("Maturities", "maturities", "Growth of mass by maturity, under mass_budget.", _maturities()),
        Titled("Propellants", "propellants", "Combinations that are built in.", _propellants()),
        Titled("Environments of a radiator", "environments", "Where it may work.", _environments()),
        Titled("Ages of a white coating", "coatings", "What its face takes in and gives off.", _coatings()),
    )


def _laws() -> Table:
    headers = ("law", "in words", "keys", "may be added", "example")
    return Table(headers, tuple(_law(shape) for shape in SHAPES))


def _law(shape: Shape) -> tuple[Cell, ...]:
    named = (shape.name,) if shape.named else ()
    cells = (shape.name, shape.words, ", ".join(shape.required), ", ".join(shape.optional))
    return tuple(map(Cell, (*cells, LAW_EXAMPLES[*named, *shape.keys])))


def _practices() -> Table:
    headers = ("practice", "for", "law", "what it takes", "source")
    return Table(headers, tuple(_practice(each) for each in PRACTICES.values()))


def _practice(each: Practice) -> tuple[Cell, ...]:
    whose = ", ".join(dimension.name for dimension in each.dimensions)
    return Cell(each.name), Cell(whose), Cell(each.shape), Cell(each.says), Cell(str(each.source))


def _maturities() -> Table:
    rows = tuple(
        (Cell(each.name), Cell(f"{100 * each.growth:g} %", each.growth), Cell(str(each.source)))
        for each in MATURITIES.values()
    )
    return Table(("maturity", "growth", "source"), rows)


def _propellants() -> Table:
    headers = ("propellant", "oxidiser", "fuel", "usual mixture ratio", "source")
    rows = []
    for name, each in PROPELLANTS.items():
        ratio = Cell("") if each.mixture_ratio is None else Cell(f"{each.mixture_ratio:g}", each.mixture_ratio)
        oxidiser = "" if each.oxidiser is None else each.oxidiser.name
        sources = _sources(liquid.source for liquid in (each.oxidiser, each.fuel) if liquid is not None)
        rows.append((Cell(name), Cell(oxidiser), Cell(each.fuel.name), ratio, sources))
    return Table(headers, tuple(rows))


def _environments() -> Table:
    headers = ("environment", "sunlight, W/m2", "reflected, W/m2", "infrared, W/m2", "view factor", "source")
    rows = (
        (
            Cell(in_words(name)),
            _number(each.sunlight_w_m2),
            _number(each.reflected_w_m2),
            _number(each.infrared_w_m2),
            _number(each.view_factor),
            _sources(each.sources),
        )
        for name, each in ENVIRONMENTS.items()
    )
    return Table(headers, tuple(rows))


def _coatings() -> Table:
    rows = (
        (
            Cell(age),
            _number(float(COATINGS[name].solar_absorptance)),
            _number(float(COATINGS[name].infrared_emittance)),
            Cell(str(COATINGS[name].source)),
        )
        for age, name in AGES.items()
    )
    return Table(("white coating", "absorptance", "emittance", "source"), tuple(rows))


def _number(value: float) -> Cell:
    return Cell(f"{value:.3g}", value)


def _sources(sources: Iterable[Source]) -> Cell:
    return Cell("; ".join(dict.fromkeys(map(str, sources))))
