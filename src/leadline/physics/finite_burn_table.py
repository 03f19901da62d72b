"""How the tables of finite burns are made.

``python -m leadline.physics.finite_burn_table`` integrates them and writes the file that ships with the package. Units
are the orbit's own: its radius (at perigee) 1, the circular speed there 1, gravitational parameter 1, so time is arc.

A tangential burn is integrated over the speed V = 1 + k that an impulse at radius 1 would have reached with the same
energy. The energy is then exact, the end is known beforehand, and nothing small is the difference of large things:

    dr/dt = u,  du/dt = h^2/r^3 - 1/r^2 + a u/v,  dL/dk = (V - v)/v,  V^2 - v^2 = 2 (1 - 1/r),   L the loss      (1)

With the arc e as small parameter, r = 1 + e^2 Y, u = e P, t = e T and L = e^2 Lambda, every equation stays regular for
e = 0, the impulsive limit.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from leadline.physics.finite_burn_grid import (
    ARRIVAL_AXES,
    DEPARTURE_AXES,
    FIXED_AXES,
    SHIPPED_PASSES,
    Axes,
    fixed_arc_limit,
    fixed_shape,
    pass_axes,
    pass_shape,
    tangential_shape,
    unstretch,
)

__all__ = [
    "Spiral",
    "Straight",
    "arrival_values",
    "departure_values",
    "fixed_values",
    "pass_values",
    "tangential_loss",
    "write",
]

Array = npt.NDArray[np.float64]
State = tuple[Array, ...]
Slopes = Callable[[Array, State], State]


def advance(slopes: Slopes, x: Array, h: Array, state: State) -> State:
    """One Runge-Kutta step of fourth order."""
    a = slopes(x, state)
    b = slopes(x + h / 2, tuple(y + h / 2 * k for y, k in zip(state, a, strict=True)))
    c = slopes(x + h / 2, tuple(y + h / 2 * k for y, k in zip(state, b, strict=True)))
    d = slopes(x + h, tuple(y + h * k for y, k in zip(state, c, strict=True)))
    return tuple(y + h / 6 * (k1 + 2 * (k2 + k3) + k4) for y, k1, k2, k3, k4 in zip(state, a, b, c, d, strict=True))


def burnt_per_mass(mass: Array) -> Array:
    """Return (1 - exp(-s)) / s, 1 where s is 0: the mean of the mass over the burn, weighted by velocity."""
    safe = np.where(mass == 0.0, 1.0, mass)
    return np.where(mass == 0.0, 1.0, -np.expm1(-safe) / safe)


@dataclass(frozen=True, slots=True)
class Spiral:
    """Tangential burns from speed V = 1 + start to 1 + start + cost, arc e, in the units of equation (1).

    `mass` is cost over exhaust velocity; below zero the mass grows, which is an arrival run backwards.
    """

    start: Array
    cost: Array
    mass: Array
    arc: Array

    def slopes(self, k: Array, state: State) -> State:
        """Return the derivatives of Y, P, Lambda and T along k."""
        Y, P, loss, _ = state
        square = self.arc * self.arc
        V, r = 1.0 + k, 1.0 + square * Y
        v = np.sqrt(V * V - 2.0 * square * Y / r)
        a = self.cost * burnt_per_mass(self.mass) * np.exp(self.mass / self.cost * (k - self.start + square * loss))
        dT = V / (v * a)
        # h^2/r^3 - 1/r^2 = [V^2 - 1 + e^2 (V^2 Y - 2Y - P^2 r)] / r^2 over the arc squared's scale
        pull = (k * (2.0 + k) + square * (V * V * Y - 2.0 * Y - P * P * r)) / (r * r)
        return P * dT, (pull + a * P / v) * dT, 2.0 * Y / (r * (V + v) * v), dT

    def run(self, steps: int, Y: Array | float = 0.0, P: Array | float = 0.0) -> State:
        """Return Y, P, Lambda and T at the end."""
        zero = np.zeros_like(self.start)
        state: State = (zero + Y, zero + P, zero, zero)
        h = self.cost / steps
        for i in range(steps):
            state = advance(self.slopes, self.start + i * h, h, state)
        return state


def tangential_loss(arc: Array, cost: Array, mass: Array) -> Array:
    """Integrate tangential burns from the circular orbit.

    Parameters
    ----------
    arc, cost, mass : (n,)
        The three pure numbers; `mass` below zero for a mass that grows.

    Returns
    -------
    (n,)
        Loss over the circular speed.
    """
    loss = np.empty_like(arc)
    order = np.argsort(arc, kind="stable")
    for start in range(0, arc.size, 2048):
        part = order[start : start + 2048]
        steps = int(np.clip(10.0 * arc[part[-1]], 48.0, None))
        spiral = Spiral(np.zeros(part.size), cost[part], mass[part], arc[part])
        loss[part] = spiral.run(steps)[2] * np.square(arc[part])
    return loss


def departure_values() -> Array:
    """Return losses over `tangential_shape` at the nodes of `DEPARTURE_AXES`."""
    arc, cost, mass = _nodes(DEPARTURE_AXES, unstretch)
    return tangential_loss(arc, cost, mass) / tangential_shape(arc, cost)


def arrival_values() -> Array:
    """Return losses of arrivals over `tangential_shape` at the nodes of `ARRIVAL_AXES`.

    Backwards, an arrival with arc x is a departure whose mass grows, with arc x exp(-loss/ve): the acceleration counts
    at ignition, where the mass is larger. That arc is found by interpolating between departures integrated near it.
    """
    arc, cost, mass = _nodes(ARRIVAL_AXES, unstretch)
    loss, forward = _from_behind(arc, cost, mass)
    for _ in range(3):
        loss, forward = _from_behind(_along_first_axis(forward, forward * np.exp(-loss * mass / cost), arc), cost, mass)
    return loss / tangential_shape(forward, cost)


def _from_behind(backward: Array, cost: Array, mass: Array) -> tuple[Array, Array]:
    """Return the loss of arrivals whose arcs are given backwards, and their arcs."""
    loss = tangential_loss(backward, cost, -mass)
    return loss, backward * np.exp(loss * mass / cost)


def _along_first_axis(x: Array, y: Array, wanted: Array) -> Array:
    """Interpolate y(x) at the wanted x along the first axis of the arrival grid."""
    shape = (ARRIVAL_AXES[0].nodes, -1)
    lines = zip(*(column.reshape(shape).T for column in (wanted, x, y)), strict=True)
    return np.stack([np.interp(*line) for line in lines], axis=1).ravel()


def _nodes(axes: Axes, arc_of: Callable[[Array], Array]) -> tuple[Array, Array, Array]:
    """Return the flat node positions; zero arc and zero cost, where only limits exist, are taken just beside."""
    first, cost, mass = (axis.points() for axis in axes)
    arc, cost, mass = np.meshgrid(arc_of(first), np.fmax(cost, 1e-4), mass, indexing="ij")
    return np.fmax(arc, 1e-2).ravel(), cost.ravel(), mass.ravel()


@dataclass(frozen=True, slots=True)
class Straight:
    """Burns in one inertial direction from the circular orbit; the angle counts from the first velocity downwards."""

    arc: Array
    cost: Array
    mass: Array

    def slopes(self, c: Array, state: State, angle: Array) -> State:
        """Return the derivatives of position and velocity along the ideal velocity c spent."""
        x, y, vx, vy = state
        time = self.arc * np.exp(-self.mass / self.cost * c) / (self.cost * burnt_per_mass(self.mass))
        pull = time / np.power(x * x + y * y, 1.5)
        return vx * time, vy * time, np.cos(angle) - x * pull, -np.sin(angle) - y * pull

    def loss(self, angle: Array, guess: Array) -> Array:
        """Return the loss at which the energy is reached, from a guess near it."""
        direction = (np.cos(angle), -np.sin(angle))
        zero = np.zeros_like(angle)
        state: State = (zero, zero + 1.0, zero + 1.0, zero)

        def slopes(c: Array, state: State) -> State:
            return self.slopes(c, state, angle)

        c, h = zero, (self.cost + guess) / 120
        for _ in range(120):
            state = advance(slopes, c, h, state)
            c = c + h
        for _ in range(4):  # Newton's rule on the energy, whose slope along c is the velocity along the thrust
            x, y, vx, vy = state
            short = 0.5 * (1.0 + self.cost) ** 2 - 1.0 - (0.5 * (vx * vx + vy * vy) - 1.0 / np.hypot(x, y))
            h = short / (vx * direction[0] + vy * direction[1])
            state = advance(slopes, c, h, state)
            c = c + h
        return c - self.cost

    def best(self, angle: Array, guess: Array) -> tuple[Array, Array]:
        """Return the best angle and its loss, by the vertex of parabolas about an angle near it."""
        for width in (0.06, 0.03, 0.015):
            low, middle, high = (self.loss(angle + shift, guess) for shift in (-width, 0.0, width))
            vertex = 0.5 * width * (low - high) / (low - 2.0 * middle + high)
            angle = angle + np.clip(vertex, -4.0 * width, 4.0 * width)
            guess = middle
        return angle, self.loss(angle, guess)


def fixed_values() -> Array:
    """Return losses over `fixed_shape` at the nodes of `FIXED_AXES`, each arc from the one before."""
    cost, mass = (x.ravel() for x in np.meshgrid(*(axis.points() for axis in FIXED_AXES[1:]), indexing="ij"))
    cost = np.fmax(cost, 1e-3)
    limit = fixed_arc_limit(cost, mass)
    shares = np.fmax(FIXED_AXES[0].points(), 1e-2)
    values = np.empty((shares.size, cost.size))
    turn, ratio = np.full_like(cost, 0.5), np.ones_like(cost)
    for i, share in enumerate(shares):
        arc = share * limit
        angle, loss = Straight(arc, cost, mass).best(turn * arc, ratio * fixed_shape(arc, cost))
        turn, ratio = angle / arc, loss / fixed_shape(arc, cost)
        values[i] = ratio
    return values.ravel()


def pass_values(passes: int) -> Array:
    """Integrate burns shared between perigee passes.

    Parameters
    ----------
    passes
        How many, two or more.

    Returns
    -------
    (2 passes + 1, nodes)
        At the nodes of `pass_axes`: the whole loss, then that of each pass, all over `pass_shape`; then the rise of the
        perigee radius after each pass over arc^2 cost.
    """
    arc, cost, mass = _nodes(pass_axes(passes), np.asarray)
    mass = np.fmax(mass, 1e-6)
    exhaust = cost / mass
    spent, perigee = np.zeros_like(arc), np.ones_like(arc)
    losses, rises = [], []
    for i in range(passes):
        acceleration = cost * burnt_per_mass(mass) / (passes * arc) * np.exp(spent / exhaust)
        ideal, perigee = _one_pass((i * cost / passes, (i + 1) * cost / passes), perigee, exhaust, acceleration)
        spent = spent + ideal
        losses.append((ideal - cost / passes) / pass_shape(arc, cost))
        rises.append((perigee - 1.0) / (np.square(arc) * cost))
    return np.stack([sum(losses), *losses, *rises])


def _one_pass(k: tuple[Array, Array], perigee: Array, exhaust: Array, acceleration: Array) -> tuple[Array, Array]:
    """Return the ideal velocity of a pass and the perigee radius after it, in the first orbit's units."""
    # In the units of this perigee the speeds follow from the energies V^2/2 - 1 of the impulsive schedule
    before, after = (np.sqrt((np.square(1.0 + x) - 2.0) * perigee + 2.0) for x in k)
    mass = (after - before) / (exhaust * np.sqrt(perigee))
    arc = (after - before) * burnt_per_mass(mass) / (acceleration * np.square(perigee))
    spiral = Spiral(before - 1.0, after - before, mass, arc)
    steps = int(np.clip(16.0 * arc.max(), 32.0, None))
    Y, P, loss, duration = spiral.run(steps, *_on_ellipse(spiral, np.full_like(arc, -0.5)))
    for _ in range(4):  # the burn is centred on perigee in time, loss included
        Y, P, loss, duration = spiral.run(steps, *_on_ellipse(spiral, -0.5 * duration))
    ideal = (after - before + np.square(arc) * loss) / np.sqrt(perigee)
    return ideal, perigee * (1.0 + np.square(arc) * _rise(after, arc, Y, P))


def _on_ellipse(spiral: Spiral, time: Array) -> tuple[Array, Array]:
    """Return Y and P at a time from perigee; zero on the circle, which has no perigee."""
    e = spiral.start * (2.0 + spiral.start)
    a = 1.0 / (1.0 - e)
    mean = time * spiral.arc / a**1.5
    E = mean / (1.0 - e)
    for _ in range(12):
        E = E - (E - e * np.sin(E) - mean) / (1.0 - e * np.cos(E))
    square = np.square(spiral.arc)
    rise = 2.0 * a * e * np.square(np.sin(0.5 * E))
    return rise / square, np.sqrt(a) * e * np.sin(E) / ((1.0 + rise) * spiral.arc)


def _rise(V: Array, arc: Array, Y: Array, P: Array) -> Array:
    """Return the rise of the perigee over the arc squared, from the state at the end of a pass."""
    square = np.square(arc)
    # h^2 = V^2 + e^2 H, and h^2 = q^2 (V^2 - 2) + 2 q at the perigee q = 1 + e^2 Q
    r = 1.0 + square * Y
    H = V * V * (2.0 * Y + square * Y * Y) - 2.0 * Y * r - P * P * r * r
    e = np.sqrt(np.fmax(np.square(V * V - 1.0) + square * (V * V - 2.0) * H, 0.0))
    rise: Array = H / (V * V - 1.0 + e)
    return rise


def write(path: Path) -> None:
    """Integrate every table and write the file; the same bytes on every run of one machine."""
    tables = {"departure": departure_values(), "arrival": arrival_values(), "fixed": fixed_values()}
    tables |= {f"passes_{n}": pass_values(n) for n in SHIPPED_PASSES}
    np.savez_compressed(path, allow_pickle=False, **{name: x.astype(np.float32) for name, x in tables.items()})


if __name__ == "__main__":
    write(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "data" / "finite_burn.npz")
