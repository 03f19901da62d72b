"""What follows from a tank's size and condition, noted for whoever goes through the ledger by hand."""

from __future__ import annotations

from leadline.budget.state import State
from leadline.vehicle import Formula, Tank

__all__ = ["note_facts"]


def note_facts(state: State, tank: Tank) -> None:
    """Note a tank's numbers that follow from others, when a ledger is kept."""
    if not state.records:
        return
    _note(state, f"volume_m3.{tank.name}", tank.volume_m3)
    _note(state, f"tank_mass_kg.{tank.name}", tank.mass_kg)
    for liquid in tank.liquids:
        where = f"{tank.name}.{liquid.role.value}"
        _note(state, f"volume_m3.{where}", liquid.volume_m3)
        _note(state, f"density_kg_m3.{where}", liquid.density_kg_m3)
        _note(state, f"vent_density_kg_m3.{where}", liquid.vent_density_kg_m3)
        _note(state, f"vent_heat_j_kg.{where}", liquid.vent_heat_j_kg)
        _note(state, f"heat_leak_w.{where}", liquid.heat_leak_w)
        for environment, leak in liquid.heat_leaks_w:
            _note(state, f"heat_leak_w.{where} in {environment.value}", leak)


def _note(state: State, name: str, number: object) -> None:
    if isinstance(number, Formula):
        state.note(name, state.read(number))
