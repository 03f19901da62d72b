"""Burns of finite length integrated in SI with SciPy, apart from the tables of the package."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.integrate import solve_ivp

__all__ = ["Thrust", "arrival_mass_ratio", "departure"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Thrust:
    """Gravity (m3/s2), radius of the circular orbit (m), thrust (N), exhaust velocity (m/s)."""

    gravity: float
    radius: float
    newton: float
    exhaust: float

    @property
    def circular(self) -> float:
        return float(np.sqrt(self.gravity / self.radius))

    def energy(self, cost: float) -> float:
        """Energy after an impulse on the circular orbit, J/kg."""
        return 0.5 * (self.circular + cost) ** 2 - self.gravity / self.radius

    def burn(self, start: Array, mass: float, target: float, flow_sign: float = -1.0) -> tuple[float, Array]:
        """Thrust along the velocity until an energy is reached; return time (s) and state."""
        flow = flow_sign * self.newton / self.exhaust

        def slopes(t: float, z: Array) -> list[float]:
            pull = -self.gravity * np.hypot(z[0], z[1]) ** -3
            a = self.newton / (mass + flow * t) / np.hypot(z[2], z[3])
            return [z[2], z[3], z[0] * pull + a * z[2], z[1] * pull + a * z[3]]

        def reached(t: float, z: Array) -> float:
            return float((0.5 * (z[2] ** 2 + z[3] ** 2) - self.gravity / np.hypot(z[0], z[1]) - target) / 1e6)

        reached.terminal = True  # type: ignore[attr-defined]
        longest = 0.9999 * mass * self.exhaust / self.newton if flow < 0 else 1e6
        scale = np.array([1e-4, 1e-4, 1e-7, 1e-7])
        path: Any = solve_ivp(slopes, (0.0, longest), start, "DOP853", events=reached, rtol=1e-11, atol=scale)
        return float(path.t_events[0][0]), np.asarray(path.y_events[0][0])


def departure(thrust: Thrust, mass: float, cost: float, passes: int) -> tuple[float, float]:
    """Leave a circular orbit; return the mass left (kg) and the time from first ignition to last cut-off (s)."""
    start = np.array([thrust.radius, 0.0, 0.0, thrust.circular])
    elapsed = burning = period = 0.0
    end = start
    for done in range(passes):
        target = thrust.energy((done + 1) * cost / passes)
        if done == 0:
            burning, end = thrust.burn(start, mass, target)
            elapsed = 0.5 * burning
        else:
            before = end
            for _ in range(40):  # centred on perigee in time
                period, near = _ellipse(thrust, before, 0.5 * burning)
                burning, end = thrust.burn(near, mass, target)
            elapsed += period
        mass -= thrust.newton / thrust.exhaust * burning
    return mass, elapsed + 0.5 * burning


def _ellipse(thrust: Thrust, state: Array, before: float) -> tuple[float, Array]:
    """Return the period (s) of the orbit through a state, and the state some time before perigee."""
    mu = thrust.gravity
    energy = 0.5 * (state[2] ** 2 + state[3] ** 2) - mu / np.hypot(state[0], state[1])
    turn = state[0] * state[3] - state[1] * state[2]
    a = -0.5 * mu / energy
    e = np.sqrt(1.0 - turn**2 / (mu * a))
    rate = np.sqrt(mu / a**3)
    E = M = -before * rate
    for _ in range(60):
        E -= (E - e * np.sin(E) - M) / (1.0 - e * np.cos(E))
    b, r = a * np.sqrt(1.0 - e**2), a * (1.0 - e * np.cos(E))
    speed = np.sqrt(mu * a) / r
    along = np.array([a * (np.cos(E) - e), b * np.sin(E)])
    moving = np.array([-speed * np.sin(E), speed * b / a * np.cos(E)])
    return 2.0 * np.pi / rate, np.concatenate([along, moving])


def arrival_mass_ratio(thrust: Thrust, left: float, cost: float) -> float:
    """Return mass before over mass after a burn that ends in the circular orbit: run backwards, with growing mass."""
    start = np.array([thrust.radius, 0.0, 0.0, thrust.circular])
    burning, _ = thrust.burn(start, left, thrust.energy(cost), flow_sign=1.0)
    return 1.0 + thrust.newton / thrust.exhaust * burning / left
