"""The ledger as bands: what mass, propellant and time are after each leg, over many cases."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from leadline.budget import Ledger, LedgerRow, Plan
from leadline.run.endings import valid_cases
from leadline.run.result import Band, LedgerBand
from leadline.run.work import Prepared, draw_block

__all__ = ["FEWEST_CASES", "LEDGER_BYTES", "LEDGER_CASES", "ledger_bands"]

Array = npt.NDArray[np.float64]
Keyed = tuple[str, str]

LEDGER_CASES = 16_384
"""Bands are taken from at most so many cases, the first of the run.

The 5 % quantile of so many is one between 4.7 and 5.3 % of all, which no page shows; four times as
many would take most of the time of a run of 100 000 cases.
"""
LEDGER_BYTES = 64_000_000
"""Fewer cases, but no fewer than a thousand, where a long mission's ledger would take more memory."""
FEWEST_CASES = 1_000
FRACTIONS = (0.05, 0.5, 0.95)


@dataclass(slots=True)
class _Row:
    """One leg's quantities, collected block by block, under (group, name)."""

    leg: str
    kind: str
    parts: dict[Keyed, list[Array]] = field(default_factory=dict)

    def add(self, row: LedgerRow, valid: npt.NDArray[np.bool_]) -> None:
        for key, values in _quantities(row):
            self.parts.setdefault(key, []).append(values[valid])

    def band(self) -> LedgerBand:
        groups: dict[str, dict[str, Band]] = {"": {}, "tank": {}, "quantity": {}}
        for (group, name), parts in self.parts.items():
            groups[group][name] = _band(np.concatenate(parts))
        return LedgerBand(
            leg=self.leg,
            kind=self.kind,
            mass_kg=groups[""]["mass"],
            propellant_kg=groups["tank"],
            elapsed_s=groups[""]["elapsed"],
            quantities=groups["quantity"],
        )


def ledger_bands(ready: Prepared, cases: int) -> tuple[tuple[LedgerBand, ...], int]:
    """Return bands of the ledger over the first cases of a run, and how many cases that is.

    Parameters
    ----------
    ready
        The study made ready.
    cases
        Cases in the run; more than `LEDGER_CASES` are not looked at. Invalid cases are left
        out, and without any valid case there are no bands.
    """
    rows: list[_Row] = []
    most, size = min(cases, _affordable(ready.plan)), ready.sampler.block_size
    for start in range(0, most, size):
        ledger = ready.plan.ledger(draw_block(ready, start // size, min(size, most - start)))
        rows = rows or [_Row(row.name, row.kind) for row in ledger.rows]
        _add(rows, ledger)
    return _finish(rows, most)


def _add(rows: list[_Row], ledger: Ledger) -> None:
    valid = valid_cases(ledger.margins)
    for row, account in zip(rows, ledger.rows, strict=True):
        row.add(account, valid)


def _finish(rows: list[_Row], seen: int) -> tuple[tuple[LedgerBand, ...], int]:
    left = sum(part.size for part in rows[0].parts["", "mass"])
    return (tuple(row.band() for row in rows), seen) if left else ((), 0)


def _quantities(row: LedgerRow) -> Iterator[tuple[Keyed, Array]]:
    yield ("", "mass"), row.stack_mass_kg
    yield ("", "elapsed"), row.elapsed_s
    for tank, liquids in row.propellant_kg.items():
        yield ("tank", tank), np.sum(list(liquids.values()), axis=0)
    for name, values in row.quantities.items():
        yield ("quantity", name), values


def _affordable(plan: Plan) -> int:
    """Give how many cases of a mission's ledger fit the memory; a leg notes a few numbers for each liquid."""
    liquids = sum(len(tank.liquids) for element in plan.mission.elements for tank in element.tanks)
    each = 8 * (len(plan.legs) + 1) * (6 + 3 * liquids)
    return max(FEWEST_CASES, min(LEDGER_CASES, LEDGER_BYTES // each))


def _band(values: Array) -> Band:
    p5, p50, p95 = np.quantile(values, FRACTIONS)
    return Band(p5=float(p5), p50=float(p50), p95=float(p95))
