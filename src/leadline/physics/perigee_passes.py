"""Departures shared between several passes of perigee.

A long burn far from perigee wastes velocity. Shared between passes, each burn stays near perigee, and the orbit between
two of them is an ellipse that is flown round. Of p passes, each raises the speed that an impulse at perigee would reach
by dv/p: pass j stops at the energy (vc + j dv/p)^2/2 - mu/r of the impulsive schedule. The first burn leaves the
circular orbit, the others are centred on perigee in time; the thrust lies along the velocity. The table of each p holds
the passes integrated one after another, the rise of perigee included. Periods follow from the schedule exactly.

Largest error of the whole loss against direct integration (SciPy's DOP853) at 1000 random points, 2 to 8 passes, arc of
one pass even from 0.05 to pi, cost even up to what the passes can share, mass number even up to 2.5: 0.31 %, and 99 of
100 points within 0.12 %. A case whose passes are longer than half a turn is marked, not evaluated. One pass is the
single burn of `leadline.physics.finite_burn`, spirals included.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from leadline.physics import finite_burn_grid as grid
from leadline.physics.finite_burn import Burn, BurnStatus, Codes, Numbers, block_losses
from leadline.physics.finite_burn_table import pass_values

__all__ = ["PassCourse", "PassOrbits", "Passes", "pass_course", "pass_orbits", "perigee_passes"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Passes:
    """Departures of n cases in p passes each.

    Parameters
    ----------
    loss_m_s : (n,)
        Ideal velocity of all passes beyond the impulsive cost, m/s; NaN where the tables do not reach.
    burning_s, elapsed_s : (n,)
        Time under thrust, and from the first ignition to the last cut-off, s.
    period_s : (p - 1, n)
        Periods of the orbits between the passes, s; NaN where an orbit does not return.
    arc_rad, arc_limit_rad : (n,)
        Impulsive burn time of one pass times angular rate of the circular orbit, and how much of it the table allows.
    status : (n,)
        `BurnStatus` codes, int8.
    """

    loss_m_s: Array
    burning_s: Array
    elapsed_s: Array
    period_s: Array
    arc_rad: Array
    arc_limit_rad: Array
    status: Codes


@dataclass(frozen=True, slots=True)
class PassOrbits:
    """The orbit after each pass of n cases, the last one outbound; NaN where something stands against it.

    Parameters
    ----------
    loss_m_s, burning_s : (p, n)
        Loss of each pass, m/s, and its time under thrust, s.
    perigee_radius_m, apogee_radius_m : (p, n)
        Distances from the body's centre, m; the apogee is infinite on an orbit that escapes.
    energy_j_kg : (p, n)
        Specific energy v^2/2 - mu/r, J/kg.
    status : (n,)
        `BurnStatus` codes, int8. A single burn longer than half a turn leaves no orbit about one perigee: it is marked
        here, though `perigee_passes` knows its loss.
    """

    loss_m_s: Array
    burning_s: Array
    perigee_radius_m: Array
    apogee_radius_m: Array
    energy_j_kg: Array
    status: Codes


@dataclass(frozen=True, slots=True)
class PassCourse:
    """How departures of n cases go, as far as a budget needs it; NaN where the tables do not reach.

    Parameters
    ----------
    loss_m_s, arc_rad : (n,)
        As in `Passes`.
    period_s : (p - 1, n)
        As in `Passes`.
    perigee_radius_m, energy_j_kg : (p, n) or (0, n)
        As in `PassOrbits`; no rows where they were not wanted.
    """

    loss_m_s: Array
    arc_rad: Array
    period_s: Array
    perigee_radius_m: Array
    energy_j_kg: Array


def perigee_passes(
    delta_v_m_s: Numbers,
    exhaust_velocity_m_s: Numbers,
    acceleration_m_s2: Numbers,
    *,
    passes: int,
    radius_m: Numbers,
    gravity_m3_s2: float,
    available_m_s: Numbers = np.inf,
) -> Passes:
    """Loss and time of a departure from a circular orbit in a number of passes.

    Parameters
    ----------
    delta_v_m_s, exhaust_velocity_m_s, acceleration_m_s2 : float or (n,)
        Impulsive cost and exhaust velocity, m/s; thrust over mass at the first ignition, m/s2.
    passes
        How many burns share the cost, one or more. Tables up to 8 are shipped; a larger number is integrated on first
        use, which takes about a tenth of a second per pass.
    radius_m : float or (n,)
        Radius of the circular orbit, m.
    gravity_m3_s2
        Gravitational parameter of the body, m3/s2.
    available_m_s : float or (n,)
        Ideal velocity that the propellant at hand gives, m/s.

    Returns
    -------
    Passes
        Losses, times and a status each.
    """
    burn = Burn.of(delta_v_m_s, exhaust_velocity_m_s, acceleration_m_s2, (radius_m, gravity_m3_s2), available_m_s)
    n = burn.delta_v.size
    loss, burning, elapsed, arc, limit = np.empty((5, n))
    period, status = np.empty((passes - 1, n)), np.empty(n, dtype=np.int8)
    with np.errstate(all="ignore"):  # what is no burn may divide by zero; its status says so
        for part, block in burn.blocks():
            losses = block_losses("departure", block) if passes == 1 else _block_losses(block, passes)
            loss[part], arc[part], limit[part], status[part] = losses
            period[:, part] = _periods(block, passes)
            burning[part], elapsed[part] = _times(block, passes, loss[part], period[:, part])
    return Passes(loss, burning, elapsed, period, arc, limit, status)


def pass_orbits(
    delta_v_m_s: Numbers,
    exhaust_velocity_m_s: Numbers,
    acceleration_m_s2: Numbers,
    *,
    passes: int,
    radius_m: Numbers,
    gravity_m3_s2: float,
) -> PassOrbits:
    """Each pass of a departure and the orbit after it; parameters as in `perigee_passes`.

    Returns
    -------
    PassOrbits
        Losses, burn times and orbits; `leadline.physics.belts.stay` takes its perigees and energies.
    """
    burn = Burn.of(delta_v_m_s, exhaust_velocity_m_s, acceleration_m_s2, (radius_m, gravity_m3_s2), np.inf)
    columns, status = np.empty((5, passes, burn.delta_v.size)), np.empty(burn.delta_v.size, dtype=np.int8)
    with np.errstate(all="ignore"):
        for part, block in burn.blocks():
            columns[:, :, part], status[part] = _block_orbits(block, passes)
    loss, burning, perigee, apogee, energy = columns
    return PassOrbits(loss, burning, perigee, apogee, energy, status)


def pass_course(
    delta_v_m_s: Numbers,
    exhaust_velocity_m_s: Numbers,
    acceleration_m_s2: Numbers,
    *,
    passes: int,
    radius_m: Numbers,
    gravity_m3_s2: float,
    paths: bool,
) -> PassCourse:
    """Take from one look at the table what a budget needs of `perigee_passes` and `pass_orbits`.

    Parameters
    ----------
    delta_v_m_s, exhaust_velocity_m_s, acceleration_m_s2, passes, radius_m, gravity_m3_s2
        As in `perigee_passes`.
    paths
        Whether the orbits after the passes are wanted.

    Returns
    -------
    PassCourse
    """
    burn = Burn.of(delta_v_m_s, exhaust_velocity_m_s, acceleration_m_s2, (radius_m, gravity_m3_s2), np.inf)
    n = burn.delta_v.size
    (loss, arc), period = np.empty((2, n)), np.empty((passes - 1, n))
    perigee, energy = np.empty((2, passes if paths else 0, n))
    with np.errstate(all="ignore"):
        for part, block in burn.blocks():
            place = _Place.of(block, passes)
            loss[part], arc[part] = place.whole_loss()[0], place.arc
            period[:, part] = _periods(block, passes)
            if paths:
                place.paths(loss[part], perigee[:, part], energy[:, part])
    return PassCourse(loss, arc, period, perigee, energy)


@lru_cache(maxsize=32)
def _table(passes: int) -> grid.Table:
    stored = grid.shipped()[f"passes_{passes}"] if passes in grid.SHIPPED_PASSES else pass_values(passes).ravel()
    return grid.Table(grid.pass_axes(passes), stored)


def _block_losses(burn: Burn, passes: int) -> tuple[Array, Array, Array, Codes]:
    """Return whole loss, arc of a pass, its limit and the status."""
    place = _Place.of(burn, passes)
    loss, status = place.whole_loss()
    return loss, place.arc, np.full_like(place.arc, grid.PASS_ARC_LIMIT_RAD), status


@dataclass(frozen=True, slots=True)
class _Place:
    """Where the burns of a block lie in the table; arrays (n,), pure numbers."""

    burn: Burn
    passes: int
    arc: Array
    cost: Array
    mass: Array
    cells: grid.Cells

    @classmethod
    def of(cls, burn: Burn, passes: int) -> _Place:
        arc, cost, mass = burn.numbers()
        arc /= passes
        return cls(burn, passes, arc, cost, mass, _table(passes).locate(arc, cost, mass))

    def whole_loss(self) -> tuple[Array, Codes]:
        """Return the loss of all passes, m/s, and the status."""
        loss = _table(self.passes).at(self.cells) * grid.pass_shape(self.arc, self.cost) * self.burn.speed
        return loss, self.settle(loss)

    def settle(self, loss: Array) -> Codes:
        """Return the status of each burn, and put NaN into the losses of those that something stands against."""
        obstacles = [
            (BurnStatus.LEAVES_TOO_EARLY, self.cost > grid.pass_cost_limit(self.passes)),
            (BurnStatus.COST_TOO_HIGH, self.cost > grid.COST_LIMIT),
            (BurnStatus.EXHAUST_TOO_SLOW, self.mass > grid.MASS_LIMIT),
            (BurnStatus.PASS_TOO_LONG, self.arc > grid.PASS_ARC_LIMIT_RAD),
        ]
        return self.burn.settle(loss, obstacles)

    def perigee(self, j: int) -> Array:
        """Return the perigee radius after a pass, counted from 0, m."""
        rise = _table(self.passes).at(self.cells, 1 + self.passes + j) * np.square(self.arc) * self.cost
        return (1.0 + rise) * self.burn.speed / self.burn.rate

    def paths(self, loss: Array, perigee: Array, energy: Array) -> None:
        """Write perigee radius, m, and energy, J/kg, after each pass, (p, n); NaN where the loss is."""
        for j in range(self.passes):
            perigee[j], energy[j] = self.perigee(j), self.energy(self.square(j))
        nothing = np.isnan(loss)
        if nothing.any():
            perigee[:, nothing], energy[:, nothing] = np.nan, np.nan

    def square(self, j: int) -> Array:
        """Return the square of the speed that an impulse would have reached, over the circular speed."""
        return np.square(1.0 + (j + 1) / self.passes * self.cost)

    def energy(self, square: Array) -> Array:
        """Return the specific energy, J/kg, of a speed squared as above."""
        return np.asarray((0.5 * square - 1.0) * np.square(self.burn.speed))


def _periods(burn: Burn, passes: int) -> Array:
    """Return the periods between passes: 2 pi sqrt(a^3/mu) with a = r / (2 - V^2), V = 1 + j dv / (p vc)."""
    periods = np.empty((passes - 1, burn.delta_v.size))
    turn, step = 2.0 * np.pi / burn.rate, burn.delta_v / (passes * burn.speed)
    for j in range(1, passes):
        left = 2.0 - np.square(1.0 + j * step)
        np.divide(turn, left * np.sqrt(left), out=periods[j - 1])
    return periods


def _times(burn: Burn, passes: int, loss: Array, periods: Array) -> tuple[Array, Array]:
    """Return the time under thrust and the time elapsed, half of the first and of the last pass outside the periods."""
    whole = burn.exhaust / burn.acceleration
    kept = np.exp((burn.delta_v + loss) / (-passes * burn.exhaust))
    before_last = kept ** (passes - 1)
    burning = whole * (1.0 - before_last * kept)
    if passes == 1:
        return burning, burning
    return burning, periods.sum(axis=0) + 0.5 * whole * (1.0 - kept) * (1.0 + before_last)


def _block_orbits(burn: Burn, passes: int) -> tuple[Array, Codes]:
    """Return the fields of `PassOrbits`, shape (5, p, n), and the status."""
    place = _Place.of(burn, passes)
    whole, status = place.whole_loss()
    orbits = np.empty((5, passes, whole.size))
    loss, burning, perigee, apogee, energy = orbits
    mass = np.ones_like(whole)
    for j in range(passes):
        shape = grid.pass_shape(place.arc, place.cost) * burn.speed
        np.multiply(_table(passes).at(place.cells, 1 + j), shape, out=loss[j])
        kept = np.exp(-(burn.delta_v / passes + loss[j]) / burn.exhaust)
        np.multiply(burn.exhaust / burn.acceleration * mass, 1.0 - kept, out=burning[j])
        mass *= kept
        square = place.square(j)
        perigee[j], energy[j] = place.perigee(j), place.energy(square)
        apogee[j] = np.where(square < 2.0, 2.0 / (2.0 - square) * burn.speed / burn.rate - perigee[j], np.inf)
    orbits[:, :, np.isnan(whole)] = np.nan
    return orbits, status
