"""The step of an entry: read off the table of flown entries."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from leadline.budget.state import State, Value
from leadline.physics.entry_table import RANGES, TableFlight, look_up
from leadline.vehicle import Entry, LowOrbitEntry, Number

Array = npt.NDArray[np.float64]

__all__ = ["ballistic_coefficient", "enter"]


def enter(leg: Entry, state: State) -> None:
    """Enter the Earth's air with the whole stack.

    Every input is held within the table, so that all a case goes through is finite; by how
    much it skips out, or its ballistic coefficient lies outside, is told by the margins that name it.
    """
    vehicle = _Vehicle.of(leg, state)
    speed, angle = _through_the_air(leg, state, leg.speed_m_s, leg.angle_below_rad)
    flight = vehicle.fly(speed, angle, state.read(leg.radiative_factor))
    state.entries[leg.name] = flight
    state.elapsed = state.elapsed + flight.duration_s if state.keeps_time else 0.0
    if state.records:
        _note(state, speed, angle, vehicle, flight)
        if leg.low_orbit is not None:
            _note_ratios(leg, leg.low_orbit, state, vehicle, flight)


def ballistic_coefficient(leg: Entry, state: State) -> Value:
    """Give the ballistic coefficient, as given or from the mass of the stack now, kg/m2."""
    if leg.ballistic_coefficient_kg_m2 is not None:
        return state.read(leg.ballistic_coefficient_kg_m2)
    return state.stack_mass / (state.read(leg.drag_coefficient) * state.read(leg.area_m2))


@dataclass(frozen=True, slots=True)
class _Vehicle:
    """What enters; each a number or (n,)."""

    ballistic_coefficient_kg_m2: Value
    lift_to_drag: Value
    nose_radius_m: Value
    convective_factor: Value

    @classmethod
    def of(cls, leg: Entry, state: State) -> _Vehicle:
        return cls(
            ballistic_coefficient(leg, state),
            state.read(leg.lift_to_drag),
            state.read(leg.nose_radius_m),
            state.read(leg.convective_factor),
        )

    def fly(self, speed_m_s: Value, angle_below_rad: Value, radiative_factor: Value) -> TableFlight:
        """Look an entry up, its margin to skipping out from the angle as it is."""
        shallowest = -RANGES.flight_path_angle_rad[1]
        flight = look_up(
            _held(speed_m_s, RANGES.speed_m_s),
            -np.maximum(angle_below_rad, shallowest),
            _held(self.ballistic_coefficient_kg_m2, RANGES.ballistic_coefficient_kg_m2),
            _held(self.lift_to_drag, RANGES.lift_to_drag),
            _held(self.nose_radius_m, RANGES.nose_radius_m),
            convective_factor=self.convective_factor,
            radiative_factor=radiative_factor,
        )
        margin = flight.skip_margin_rad
        np.add(margin, np.minimum(angle_below_rad - shallowest, 0.0), out=margin)
        return flight


def _held(value: Value, limits: tuple[float, float]) -> Value:
    return np.clip(value, *limits)


def _through_the_air(leg: Entry, state: State, speed: Number, angle_below: Number) -> tuple[Value, Value]:
    """Give speed and angle below the horizontal relative to the air, which turns with the Earth."""
    V, g = state.read(speed), state.read(angle_below)
    if leg.turning_m_s == 0.0:
        return V, g
    down = V * np.sin(g)
    along = np.sqrt(V * V - down * down) - state.read(leg.turning_m_s)  # a cosine takes five times as long
    return np.sqrt(along * along + down * down), np.arctan2(down, along)


def _note(state: State, speed_m_s: Value, angle_below_rad: Value, vehicle: _Vehicle, flight: TableFlight) -> None:
    noted = {
        "speed_m_s": speed_m_s,
        "angle_below_rad": angle_below_rad,
        "ballistic_coefficient_kg_m2": vehicle.ballistic_coefficient_kg_m2,
        "margin_to_skip_rad": flight.skip_margin_rad,
        "peak_heating_w_m2": flight.peak_total_w_m2,
        "peak_convective_w_m2": flight.peak_convective_w_m2,
        "peak_radiative_w_m2": flight.peak_radiative_w_m2,
        "heat_load_j_m2": flight.total_load_j_m2,
        "radiative_load_j_m2": flight.radiative_load_j_m2,
        "deceleration_m_s2": flight.peak_deceleration_m_s2,
        "duration_s": flight.duration_s,
    }
    for name, value in noted.items():
        state.note(name, value)


def _note_ratios(leg: Entry, low: LowOrbitEntry, state: State, vehicle: _Vehicle, flight: TableFlight) -> None:
    """Note the entry over a return of the same vehicle from a low orbit, where nothing radiates yet."""
    base = vehicle.fly(*_through_the_air(leg, state, low.speed_m_s, low.angle_below_rad), 1.0)
    noted = {
        "times_low_orbit.peak heating": flight.peak_total_w_m2 / base.peak_total_w_m2,
        "times_low_orbit.peak convective": flight.peak_convective_w_m2 / base.peak_convective_w_m2,
        "times_low_orbit.heat load": flight.total_load_j_m2 / base.total_load_j_m2,
        "times_low_orbit.deceleration": flight.peak_deceleration_m_s2 / base.peak_deceleration_m_s2,
    }
    for name, value in noted.items():
        state.note(name, value)
