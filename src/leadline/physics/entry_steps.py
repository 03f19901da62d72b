"""The steps in which entries are flown, for `leadline.physics.entry` and the table made from it.

    h' = V sin g,   V' = -D - G sin g,   V g' = L - (G - V^2/r) cos g,   D = rho V^2 / (2 beta)         (1)

with h the altitude, V the speed, g the flight path angle, r the distance from the Earth's centre,
G the local gravity, beta the ballistic coefficient and L the upward part of the lift. The lift
is turned by banking, so its size never changes: the deceleration felt is D sqrt(1 + (L/D)^2).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.constants import EARTH_GM_M3_S2, EARTH_RADIUS_M
from leadline.physics.atmosphere import density
from leadline.physics.entry_heating import convective_heating, radiative_heating

__all__ = ["END_SPEED_M_S", "INTERFACE_ALTITUDE_M", "Fall", "LiftPolicy", "Vehicle", "follow"]

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

INTERFACE_ALTITUDE_M: Final = 122e3
"""Altitude at which entry starts, and above which a rising case has skipped out."""

END_SPEED_M_S: Final = 500.0
"""Speed at which an entry is over: heating and deceleration are long past their peaks."""

_LEVELLING_S: Final = 5.0  # time constant with which the level policy takes out the path angle
_SCALE_HEIGHT_M: Final = 7e3  # these two only set the length of a step
_SLOWEST_RATE_S: Final = 0.03
_CHUNK: Final = 4096  # cases flown together, so that their arrays stay in cache
_GRID_M: Final = 50.0  # density is read off a grid this fine: 1e-6 from the standard's own


class LiftPolicy(StrEnum):
    """How the lift is used; see `leadline.physics.entry`."""

    LEVEL = "level"
    FULL_UP = "full-up"


@dataclass(frozen=True, slots=True)
class Vehicle:
    """Ballistic coefficient and lift-to-drag (n,); nose radii and factors on heating (m, n).

    Without nose radii (m = 0) only the flight is followed, no heating.
    """

    beta: Array
    lift: Array
    radius: Array | None = None
    convective: Array | None = None
    radiative: Array | None = None

    def pick(self, chosen: Mask | slice) -> Vehicle:
        """Return the chosen cases."""
        heated = (self.radius, self.convective, self.radiative)
        return Vehicle(self.beta[chosen], self.lift[chosen], *(None if x is None else x[:, chosen] for x in heated))


@dataclass(frozen=True, slots=True)
class Fall:
    """What `follow` finds for n cases and m nose radii.

    The peak of deceleration and of convective heating is kept twice, early and late, because the
    first dip and what follows compete; each of the two is smooth where their larger is not. Both
    count a stretch in the middle, so the larger is the peak.

    Parameters
    ----------
    peaks
        Rows (2 + 4m, n) of largest deceleration early and late, of largest convective heating
        early and late for each radius, largest radiative and largest total for each.
    loads
        Rows (1 + 2m, n) of duration, convective and radiative heat load for each radius.
    left
        Whether the case rose above the interface again (n,).
    """

    peaks: Array
    loads: Array
    left: Mask

    @property
    def felt(self) -> Array:
        """Largest deceleration early, late (2, n)."""
        return self.peaks[:2]

    @property
    def convective(self) -> Array:
        """Largest convective heating early, late (2, m, n)."""
        return self.peaks[2 : self.peaks.shape[0] // 2 + 1].reshape(2, -1, self.left.size)

    @property
    def radiative(self) -> Array:
        """Largest radiative heating (m, n)."""
        return self.peaks[self.peaks.shape[0] // 2 + 1 :][: self.loads.shape[0] // 2]

    @property
    def total(self) -> Array:
        """Largest total heating (m, n)."""
        return self.peaks[self.peaks.shape[0] // 2 + 1 :][self.loads.shape[0] // 2 :]


def follow(V: Array, g: Array, vehicle: Vehicle, policy: LiftPolicy, step: float, longest: int) -> Fall:
    """Follow entries in chunks; see `fly` for the parameters."""
    parts = []
    for start in range(0, V.size, _CHUNK):
        cut = slice(start, start + _CHUNK)
        parts.append(_Swarm(V[cut], g[cut], vehicle.pick(cut), policy, step).run(longest))
    return Fall(*(np.concatenate(columns, axis=-1) for columns in zip(*parts, strict=True)))


class _Swarm:
    """Cases that fly together; those that have ended are taken out from time to time.

    The independent variable s runs at the rate ds/dt = hypot(V sin g / H, D / V, floor), so each
    step covers about the same share of the change, and quadratures in s have equal steps.
    """

    def __init__(self, V: Array, g: Array, vehicle: Vehicle, policy: LiftPolicy, step: float) -> None:
        self.vehicle, self.policy, self.step = vehicle, policy, step
        self.y = np.stack((np.full(V.shape, INTERFACE_ALTITUDE_M), V, g))
        self.entry_speed, self.where = V, np.arange(V.size)
        self.flying = np.ones(V.shape, dtype=bool)
        self.left = np.zeros(V.size, dtype=bool)
        self.slope, sample, self.flow = self._look(self.y)
        self.last, self.before = sample, sample
        self.load, self.peak = np.zeros_like(self.flow), np.zeros_like(self._windowed(sample))
        self.peaks, self.loads = np.full(self.peak.shape, np.nan), np.full(self.flow.shape, np.nan)

    def run(self, longest: int) -> tuple[Array, Array, Mask]:
        """Step until all have ended; a case that never does keeps NaN."""
        for count in range(1, longest + 1):
            self._advance()
            if count % 16 == 0 or not self.flying.any():
                self._take_out()
            if not self.where.size:
                break
        return self.peaks, self.loads, self.left

    def _advance(self) -> None:
        """One step, with what it adds to the loads and peaks."""
        y = self._next()
        slope, sample, flow = self._look(y)
        share, ended = self._ending(y)
        self.load += (0.5 * self.step) * share * (self.flow + flow)
        np.maximum(self.peak, np.where(self.flying, self._windowed(self._summit(sample)), 0.0), out=self.peak)
        self.before, self.last, self.flow, self.slope, self.y = self.last, sample, flow, slope, y
        self.flying &= ~ended

    def _summit(self, sample: Array) -> Array:
        """Last sample, or the height of the parabola through it and its neighbours where it is a peak."""
        rise, fall = self.last - self.before, self.last - sample
        peaked = (rise >= 0.0) & (fall > 0.0)
        bend = np.where(peaked, rise + fall, 1.0)
        return self.last + np.where(peaked, (rise - fall) ** 2 / (8.0 * bend), 0.0)

    def _windowed(self, sample: Array) -> Array:
        """Rows of `Fall.peaks` from rows of deceleration, convective, radiative and total heating at the last state."""
        pace, m = self.y[1] / self.entry_speed, len(sample) // 3
        felt = [sample[:1] * window for window in _windows(pace, 0.55, 0.65, 0.75, 0.85)]
        convective = [sample[1 : m + 1] * window for window in _windows(pace, 0.80, 0.88, 0.94, 1.0)]
        return np.concatenate((*felt, *convective, sample[m + 1 :]))

    def _ending(self, y: Array) -> tuple[Array, Mask]:
        """How much of the step counts (n,), and whether it was a case's last."""
        (h0, V0, _), (h1, V1, _) = self.y, y
        left = h1 > INTERFACE_ALTITUDE_M
        slow = (END_SPEED_M_S - V0) / np.where(V1 < END_SPEED_M_S, V1 - V0, -np.inf)
        low = -h0 / np.where(h1 < 0.0, h1 - h0, -np.inf)
        out = np.where(left, (INTERFACE_ALTITUDE_M - h0) / np.where(left, h1 - h0, 1.0), 1.0)
        ended = left | ~(V1 >= END_SPEED_M_S) | ~(h1 >= 0.0)
        ends = np.where(slow > 0.0, slow, np.where(low > 0.0, low, out))
        self.left[self.where[left & self.flying]] = True
        return np.where(self.flying, np.where(ended, ends, 1.0), 0.0), ended

    def _take_out(self) -> None:
        """Write down the cases that have ended and go on with the others."""
        done, stay = self.where[~self.flying], self.flying
        self.peaks[:, done], self.loads[:, done] = self.peak[:, ~stay], self.load[:, ~stay]
        self.vehicle, self.where = self.vehicle.pick(stay), self.where[stay]
        for name in ("y", "slope", "flow", "last", "before", "peak", "load", "entry_speed"):
            setattr(self, name, np.ascontiguousarray(getattr(self, name)[..., stay]))
        self.flying = self.flying[stay]

    def _next(self) -> Array:
        """State one step on, by the classical Runge-Kutta rule in s."""
        k1, half = self.slope, 0.5 * self.step
        k2 = self._motion(self.y + half * k1)[0]
        k3 = self._motion(self.y + half * k2)[0]
        k4 = self._motion(self.y + self.step * k3)[0]
        return np.asarray(self.y + (self.step / 6.0) * (k1 + 2.0 * (k2 + k3) + k4))

    def _motion(self, y: Array) -> tuple[Array, Array, Array, Array]:
        """Equations (1) per unit of s: slopes (3, n), then density, drag deceleration, ds/dt (n,)."""
        h, V, g = y
        air = np.exp(_log_density(h))
        drag = 0.5 * air * V * V / self.vehicle.beta
        radius = EARTH_RADIUS_M + h
        gravity = EARTH_GM_M3_S2 / (radius * radius)
        climb, cosine = V * np.sin(g), np.cos(g)
        sink = (gravity - V * V / radius) * cosine
        lift = self.vehicle.lift * drag
        if self.policy is LiftPolicy.LEVEL:
            lift = np.clip(sink - V * g / _LEVELLING_S, -lift, lift)
        rate = np.sqrt((climb / _SCALE_HEIGHT_M) ** 2 + (drag / V) ** 2 + _SLOWEST_RATE_S**2)
        slope = np.stack((climb, -drag - gravity * climb / V, (lift - sink) / V))
        return slope / rate, air, drag, rate

    def _look(self, y: Array) -> tuple[Array, Array, Array]:
        """Slopes (3, n), what is watched for its peak (1 + 3m, n), what is summed per unit of s (1 + 2m, n)."""
        slope, air, drag, rate = self._motion(y)
        felt = (drag * np.sqrt(1.0 + self.vehicle.lift**2))[None]
        heat = self._heat(air, y[1])
        total = heat[: len(heat) // 2] + heat[len(heat) // 2 :]
        return slope, np.concatenate((felt, heat, total)), np.concatenate((np.ones_like(felt), heat)) / rate

    def _heat(self, air: Array, V: Array) -> Array:
        """Convective, then radiative heating for each nose radius (2m, n)."""
        vehicle = self.vehicle
        if vehicle.radius is None or vehicle.convective is None or vehicle.radiative is None:
            return np.empty((0, V.size))
        convective = vehicle.convective * convective_heating(air, V, vehicle.radius)
        return np.concatenate((convective, vehicle.radiative * radiative_heating(air, V, vehicle.radius)))


def _windows(pace: Array, early_out: float, early_in: float, late_in: float, late_out: float) -> tuple[Array, Array]:
    """Weights of the early part, all of it above `early_in`, and of the late part, all of it below `late_in`."""
    early = np.clip((pace - early_out) / (early_in - early_out), 0.0, 1.0)
    return early, np.clip((late_out - pace) / (late_out - late_in), 0.0, 1.0)


def _log_density(altitude_m: Array) -> Array:
    """Log of the air's density, read off a fine grid; level below the ground and above the top."""
    value, rise = _grid()
    place = np.fmin(np.fmax(altitude_m / _GRID_M, 0.0), value.size - 1.0)  # a NaN must still find a cell
    cell = place.astype(np.intp)
    return np.asarray(value[cell] + rise[cell] * (place - cell))


@lru_cache(maxsize=1)
def _grid() -> tuple[Array, Array]:
    """Log density every `_GRID_M` up to a little above the entry interface, and its differences."""
    value = np.log(density(np.arange(0.0, INTERFACE_ALTITUDE_M + 5e3, _GRID_M)))
    return value, np.diff(value, append=value[-1:])
