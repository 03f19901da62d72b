"""The ledger as bands: what mass, propellant and time are after each leg, over many cases."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from leadline.budget import Ledger, LedgerRow
from leadline.run.endings import valid_cases
from leadline.run.result import Band, LedgerBand

__all__ = ["Bands"]

Array = npt.NDArray[np.float64]
Keyed = tuple[str, str]

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


@dataclass(slots=True)
class Bands:
    """Collects the ledgers of cases and makes bands of them; invalid cases are left out."""

    rows: list[_Row] = field(default_factory=list)

    def add(self, ledger: Ledger) -> None:
        """Add the ledger of further cases."""
        self.rows = self.rows or [_Row(row.name, row.kind) for row in ledger.rows]
        valid = valid_cases(ledger.margins)
        for row, account in zip(self.rows, ledger.rows, strict=True):
            row.add(account, valid)

    def finish(self, seen: int) -> tuple[tuple[LedgerBand, ...], int]:
        """Return the bands and from how many cases they are; none without any valid case."""
        left = sum(part.size for part in self.rows[0].parts["", "mass"])
        return (tuple(row.band() for row in self.rows), seen) if left else ((), 0)


def _quantities(row: LedgerRow) -> Iterator[tuple[Keyed, Array]]:
    yield ("", "mass"), row.stack_mass_kg
    yield ("", "elapsed"), row.elapsed_s
    for tank, liquids in row.propellant_kg.items():
        yield ("tank", tank), np.sum(list(liquids.values()), axis=0)
    for name, values in row.quantities.items():
        yield ("quantity", name), values


def _band(values: Array) -> Band:
    p5, p50, p95 = np.quantile(values, FRACTIONS)
    return Band(p5=float(p5), p50=float(p50), p95=float(p95))
