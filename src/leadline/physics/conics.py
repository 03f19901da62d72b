"""Time from perigee on orbits given by perigee and energy: ellipses, parabolas and hyperbolas alike.

Symbols: r radius, q perigee radius, e eccentricity, h specific angular momentum, mu the gravitational parameter.
With w = tan(true anomaly / 2) and L = (1 - e)/(1 + e),

    w^2 = (r - q)/(q - L r),   t = 2 q^2/h * integral of (1 + w^2)/(1 + L w^2)^2 dw                              (1)

which closes to [(1 + L) angle/sqrt|L| - sqrt((r - q)(q - L r))/q] / (2 L), the angle being arctan(sqrt(L) w) on an
ellipse and artanh(sqrt(-L) w) on a hyperbola.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final, Self

import numpy as np
import numpy.typing as npt

__all__ = ["SLENDER", "Conics"]

Array = npt.NDArray[np.float64]
Numbers = Array | float

SLENDER: Final = 1e-3
"""(1 - e)/(1 + e) below which an orbit is treated as all but a parabola; the closed forms keep 13 digits above."""


@dataclass(frozen=True)
class Conics:
    """What the times on n orbits have in common; arrays (n,).

    Parameters
    ----------
    perigee
        Radius, m.
    shape
        L of equation (1).
    pace
        2 q^2/h, s.
    """

    perigee: Array
    shape: Array
    pace: Array

    @classmethod
    def of(cls, perigee_radius_m: Array, energy_j_kg: Array, gravity_m3_s2: float) -> Self:
        """Take orbits by perigee radius, m, and specific energy v^2/2 - mu/r, J/kg; each (n,)."""
        q = np.asarray(perigee_radius_m, dtype=np.float64)
        e_less_1 = 2.0 * energy_j_kg * q / gravity_m3_s2
        e_plus_1 = 2.0 + e_less_1
        with np.errstate(divide="ignore", invalid="ignore"):
            pace = np.sqrt(4.0 * (q * q * q) / (gravity_m3_s2 * e_plus_1))
            return cls(q, -e_less_1 / e_plus_1, np.asarray(pace))

    @cached_property
    def apogee(self) -> Array:
        """Apogee radius, m; infinite on an orbit that escapes."""
        if self._all_round:
            return self.perigee / self.shape
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(self.shape > 0.0, self.perigee / self.shape, np.inf)

    def all_below(self, radius_m: float) -> bool:
        """Tell whether no orbit reaches a radius, m."""
        return bool(self._apogees[1] <= radius_m)

    def time_to(self, radius_m: Numbers) -> Array:
        """Time from perigee up to a radius.

        Parameters
        ----------
        radius_m : float or (n,)
            Radius to reach, m. Below perigee the time is zero, beyond apogee that to apogee.

        Returns
        -------
        (n,)
            Seconds.
        """
        if self._all_round and isinstance(radius_m, float):
            if radius_m >= self._apogees[1]:
                return self._swept * (0.5 * np.pi)
            if self._highest_perigee < radius_m < self._apogees[0]:
                return self._between(radius_m)
            if radius_m < self._apogees[0] and self._no_circle:
                return self._between(np.maximum(radius_m, self.perigee))
        return self._anywhere(radius_m)

    def _between(self, radius: Numbers) -> Array:
        """Return the time to a radius that lies from perigee to below apogee on every orbit, all of them ellipses."""
        root = radius - self.perigee
        room = self.shape * np.negative(radius)
        room += self.perigee
        root /= room
        np.sqrt(root, out=root)  # w of equation (1), and w (q - L r) is the root of the product
        room *= root
        room *= self._drawn
        root *= self._bend
        angle = np.arctan(root, out=root)
        angle *= self._swept
        angle -= room
        return angle

    @cached_property
    def _all_round(self) -> bool:
        return bool((self.shape >= SLENDER).all())

    @cached_property
    def _no_circle(self) -> bool:
        return bool((self.shape < 1.0).all())

    @cached_property
    def _apogees(self) -> tuple[float, float]:
        """Lowest and highest apogee; NaN, which nothing is below or above, where an orbit is no number."""
        return float(self.apogee.min()), float(self.apogee.max())

    @cached_property
    def _highest_perigee(self) -> float:
        return float(self.perigee.max())

    @cached_property
    def _swept(self) -> Array:
        """What the angle is multiplied by on an ellipse."""
        return self.pace * (1.0 + self.shape) / (2.0 * self.shape * self._bend)

    @cached_property
    def _bend(self) -> Array:
        """The root of L."""
        return np.asarray(np.sqrt(self.shape))

    @cached_property
    def _drawn(self) -> Array:
        """What the root of (r - q)(q - L r) is multiplied by."""
        return self.pace / (2.0 * self.shape * self.perigee)

    def _anywhere(self, radius: Numbers) -> Array:
        L, q = self.shape, self.perigee
        with np.errstate(divide="ignore", invalid="ignore"):
            r = np.fmin(np.fmax(radius, q), self.apogee)
            rise, room = r - q, np.where(r < self.apogee, np.fmax(q - L * r, 0.0), 0.0)
            square = np.where(room > 0.0, rise / room, np.inf)
            integral = _integral(L, q, rise * room, square)
        integral *= radius > q
        return np.asarray(self.pace * integral)


def _integral(L: Array, q: Array, product: Array, square: Array) -> Array:
    """Return the integral (1); `square` is w^2 and `product` is (r - q)(q - L r)."""
    bend = L * square
    integral = _closed(L, np.arctan(np.sqrt(bend)), product, q)
    if not (L >= SLENDER).all():
        hyperbola = L <= -SLENDER
        angle = np.arctanh(np.sqrt(-bend[hyperbola]))
        integral[hyperbola] = _closed(L[hyperbola], angle, product[hyperbola], q[hyperbola])
        rest = np.abs(L) < SLENDER
        integral[rest] = _near_parabola(L[rest], q[rest], product[rest], square[rest])
    return integral


def _closed(L: Array, angle: Array, product: Array, q: Array) -> Array:
    return np.asarray(((1.0 + L) * angle / np.sqrt(np.abs(L)) - np.sqrt(product) / q) / (2.0 * L))


def _near_parabola(L: Array, q: Array, product: Array, square: Array) -> Array:
    """Return the integral (1) close to a parabola, where the closed forms lose their digits near perigee."""
    bend = L * square
    series = np.zeros_like(square)
    for k in reversed(range(10)):
        series = series * -bend + (k + 1) * (1.0 / (2 * k + 1) + square / (2 * k + 3))
    root = np.sqrt(np.abs(bend))
    angle = np.where(L > 0.0, np.arctan(root), np.arctanh(np.fmin(root, 1.0)))
    return np.asarray(np.where(np.abs(bend) < 0.05, np.sqrt(square) * series, _closed(L, angle, product, q)))
