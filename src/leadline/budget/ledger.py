"""The leg-by-leg account of some cases: mass, propellant, time, what each leg took."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from leadline.budget.state import Place, State

__all__ = ["Ledger", "LedgerRow", "record"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class LedgerRow:
    """The account after one leg; every array is (n,).

    `propellant_kg` is by tank and liquid (``oxidiser``, ``fuel``), of tanks not left behind.
    `quantities` holds what the leg did, by name with its unit, such as ``delta_v_m_s``.
    """

    name: str
    kind: str
    stack_mass_kg: Array
    propellant_kg: dict[str, dict[str, Array]]
    propellant_total_kg: Array
    elapsed_s: Array
    quantities: dict[str, Array]


@dataclass(frozen=True, slots=True)
class Ledger:
    """The account of n cases: a row for the start, then one for every leg.

    `margins` is (r, n), by requirement in the plan's order.
    """

    rows: tuple[LedgerRow, ...]
    margins: Array


def record(state: State, name: str, kind: str) -> LedgerRow:
    """Copy what the block holds after a leg.

    Parameters
    ----------
    state
        The block.
    name, kind
        The leg's name and kind.

    Returns
    -------
    LedgerRow
    """
    n = state.workspace.n
    total = np.zeros(n)
    propellant: dict[str, dict[str, Array]] = {}
    for held in state.tanks.values():
        if state.places[held.element] is Place.GONE:
            continue
        by_role = {
            liquid.role.value: contents.copy()
            for liquid, contents in zip(held.tank.liquids, held.contents, strict=True)
        }
        propellant[held.tank.name] = by_role
        if state.in_stack(held):
            for contents in by_role.values():
                total += contents
    quantities = {key: np.broadcast_to(value, n).copy() for key, value in state.quantities.items()}
    state.quantities.clear()
    elapsed = np.broadcast_to(np.asarray(state.elapsed, dtype=np.float64), n).copy()
    mass = state.stack_mass.copy()
    return LedgerRow(name, kind, mass, propellant, total, elapsed, quantities)
