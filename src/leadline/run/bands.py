"""The ledger as bands: what mass, propellant and time are after each leg, over many cases."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from leadline.budget import Ledger, LedgerRow
from leadline.run.endings import valid_cases
from leadline.run.result import Band, LedgerBand
from leadline.run.work import Prepared, draw_block

__all__ = ["LEDGER_BYTES", "LEDGER_CASES", "ledger_bands"]

Array = npt.NDArray[np.float64]
Keyed = tuple[str, str]

LEDGER_CASES = 65_536
"""Bands are taken from at most so many cases, the first of the run."""
LEDGER_BYTES = 64_000_000
"""Fewer cases where the ledger of a long mission would take more memory than this."""
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
    seen, most = 0, min(cases, LEDGER_CASES)
    size = ready.sampler.block_size
    while seen < most:
        block_cases = min(size, most - seen)
        ledger = ready.plan.ledger(draw_block(ready, seen // size, block_cases))
        if not rows:
            rows = [_Row(row.name, row.kind) for row in ledger.rows]
            most = min(most, _affordable(ledger, size))
        _add(rows, ledger)
        seen += block_cases
    return _finish(rows, seen)


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


def _affordable(ledger: Ledger, block_size: int) -> int:
    """Give how many cases fit the memory, in whole blocks and at least one."""
    each = 8 * sum(1 for row in ledger.rows for _ in _quantities(row))
    return max(1, LEDGER_BYTES // (each * block_size)) * block_size


def _band(values: Array) -> Band:
    p5, p50, p95 = np.quantile(values, FRACTIONS)
    return Band(p5=float(p5), p50=float(p50), p95=float(p95))
