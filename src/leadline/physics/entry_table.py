"""Entry read off a table of flown entries.

``python -m leadline.physics.entry_table`` flies the table's nodes with `leadline.physics.entry.fly`'s
own steps, lift policy ``level``, and writes the file that ships with the package.

Axes: speed, flight path angle, ballistic coefficient, lift-to-drag. Interpolation is linear between
69 x 36 x 8 x 18 nodes of scaled logarithms; the angle's axis and the edge of skipping out are in
`leadline.physics.entry_grid`. The nose radius is no axis. Convective heating goes with its -1/2
power exactly. Radiative heating goes with a power between the correlation's exponents, which is
tabulated (one for each of the correlation's three stretches of radius). The peak of the sum is

    q = q_c + q_r - (a^(-1/e) + b^(-1/e))^(-e),   a = s_r q_r, b = s_c q_c                            (1)

because the two peak at different times: s_r is how much of the radiative heating is missing when
the convective peaks, s_c the reverse, e how much the two overlap (0 to 1). So model errors
drawn for each of the two correlations move the peak of the sum as they should. The larger of an
early and a late peak is taken for deceleration and convective heating, see `entry_steps.Fall`.

Measured against `fly` at random points all over the ranges, nose radius and both model errors drawn
too, the outermost 0.2 degrees next to the edge of skipping out left out (7500 points):

| | median | 99 % | worst |
|---|---|---|---|
| heat load, each and total | 0.06 % | 0.3 % (0.6 % within 0.5 km/s of circular speed) | 1.1 % |
| peak convective | 0.03 % | 0.4 % (1.2 % there) | 2.8 % |
| peak radiative, peak total | 0.1 % | 1.2 % (1.7 % at 9 to 10 km/s) | 3.3 % |
| peak deceleration | 0.15 % | 1.2 % (1.6 % there) | 4.1 % |
| duration | 0.14 % | 1.0 % | 2.3 % |

What exceeds 1 % (one or two cases in a hundred) lies on kinks, where one peak takes over from another.
Next to the edge the 99 % are 1.1 % for loads, 1.4 % for deceleration and 6 % for duration; the edge
itself is within 0.02 degrees. Radiation is judged against at least a twentieth of the total.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from leadline.constants import Source, Standing
from leadline.physics.entry import DECELERATION_CAP_M_S2, EntryState, Flight
from leadline.physics.entry_grid import (
    DEPTH,
    FAST,
    LIFT,
    LIFT_UNIT,
    LOG_BETA,
    RANGES,
    SPEED,
    Ranges,
    corner_shares,
    depth,
    interpolate,
    levels,
    radius_stretch,
    skip_root,
)
from leadline.physics.entry_nodes import write

__all__ = [
    "RANGES",
    "TABLE_SOURCE",
    "EntryRatios",
    "LowOrbitReturn",
    "Ranges",
    "TableFlight",
    "look_up",
    "ratio_to_low_orbit",
]

Array = npt.NDArray[np.float64]
Single = npt.NDArray[np.float32]
Mask = npt.NDArray[np.bool_]

TABLE_SOURCE: Final = Source(
    "Table of planar entries, flown by leadline.physics.entry",
    "lift policy level; non-rotating Earth, standard atmosphere of 1976, heating by Sutton-Graves and Tauber-Sutton",
    Standing.COMPUTED,
)


_FILE: Final = "entry.npz"
_CHUNK: Final = 8192  # cases read together, so that their corners stay in cache


@lru_cache(maxsize=1)
def _shipped() -> tuple[Single, Single]:
    """Return the columns (column, speed, depth, beta, lift) and equation (1)'s c (nodes,)."""
    with resources.files("leadline.physics").joinpath("data", _FILE).open("rb") as file, np.load(file) as stored:
        packed, low, high = stored["packed"], stored["low"], stored["high"]
        edge = stored["edge"].astype(np.float32).ravel()
    whole = packed[0] + packed[1].astype(np.uint16) * np.uint16(256)
    for axis in (2, 1):
        whole = np.cumsum(whole, axis=axis, dtype=np.uint16)
    return low + whole * ((high - low) / levels()), edge


@lru_cache(maxsize=3)
def _columns(stretch_of_radius: int) -> Single:
    """Return the columns (nodes, 13) for one of the radiative correlation's stretches of nose radius."""
    values = _shipped()[0]
    kept = [0, 1, 2, 3, 4, 5, 6, 7, 8 + stretch_of_radius, 11 + stretch_of_radius, 14, 15, 16]
    return np.ascontiguousarray(values[kept].reshape(len(kept), -1).T)


@dataclass(frozen=True, slots=True)
class TableFlight(Flight):
    """What n entries go through, read off the table.

    A case that skips out has the values of the corridor's edge, one steeper than 20 degrees those
    at 20 degrees; a case outside has NaN throughout.

    Parameters
    ----------
    skip_margin_rad
        How much steeper than the shallowest captured angle the entry is (n,); below 0 it skips out.
    """

    skip_margin_rad: Array


@dataclass(frozen=True, slots=True)
class _Entries:
    """Cases to look up, all within the table's ranges (n,)."""

    V: Array
    g: Array
    beta: Array
    lift: Array
    radius: Array

    @classmethod
    def held(cls, *given: Array) -> _Entries:
        """Hold every input within its range; NaN becomes the lowest value."""
        limits = (
            RANGES.speed_m_s,
            (-np.pi / 2, 0.0),
            RANGES.ballistic_coefficient_kg_m2,
            RANGES.lift_to_drag,
            RANGES.nose_radius_m,
        )
        return cls(*(np.fmin(np.fmax(x, low), high) for x, (low, high) in zip(given, limits, strict=True)))

    def read(self) -> tuple[list[Single], Array]:
        """Return rows as `look_up` takes them apart, and the shallowest captured angle (n,)."""
        log_beta, lift = LOG_BETA.find(np.log(self.beta)), LIFT.find(self.lift / LIFT_UNIT)
        fast = (FAST.find(self.V), log_beta, lift)
        edge = -skip_root(self.V) * interpolate(fast, (FAST, LOG_BETA, LIFT), _shipped()[1])
        cells = (SPEED.find(self.V), DEPTH.find(depth(self.g, edge)), log_beta, lift)
        columns = _columns(int(radius_stretch(self.radius[:1])[0]))
        return self.unscaled(corner_shares(cells, (SPEED, DEPTH, LOG_BETA, LIFT)) @ columns), edge

    def unscaled(self, read: Single) -> list[Single]:
        """Undo the scaling of `entry_nodes`, (n, 13) to rows."""
        r = np.ascontiguousarray(read.T)
        beta, radius, V = (x.astype(np.float32) for x in (self.beta, self.radius, self.V))
        root, mass, log_radius = np.sqrt(beta / radius), beta ** np.float32(1.22), np.log(radius)
        return [
            np.exp(np.maximum(r[0], r[1])),
            np.exp(np.maximum(r[2], r[3])) * V**3 * root,
            np.exp(r[4]) * root,
            r[6] ** 4 * mass * np.exp(r[8] * log_radius),
            r[7] ** 4 * mass * np.exp(r[9] * log_radius),
            np.exp(r[5]),
            *r[10:],
        ]


def look_up(
    speed_m_s: npt.ArrayLike,
    flight_path_angle_rad: npt.ArrayLike,
    ballistic_coefficient_kg_m2: npt.ArrayLike,
    lift_to_drag: npt.ArrayLike,
    nose_radius_m: npt.ArrayLike,
    *,
    convective_factor: npt.ArrayLike = 1.0,
    radiative_factor: npt.ArrayLike = 1.0,
    deceleration_cap_m_s2: float = DECELERATION_CAP_M_S2,
) -> TableFlight:
    """Read entries off the table; the parameters are those of `leadline.physics.entry.fly`.

    Returns
    -------
    TableFlight
        Arrays (n,).
    """
    inputs = (speed_m_s, flight_path_angle_rad, ballistic_coefficient_kg_m2, lift_to_drag, nose_radius_m)
    columns = np.broadcast_arrays(*(np.atleast_1d(np.asarray(x, dtype=np.float64)) for x in inputs))
    given = tuple(column.ravel() for column in columns)
    rows, edge = _read(given)
    margin = edge - given[1]
    outside = ~_inside(given) | ((margin >= 0.0) & (given[1] > RANGES.flight_path_angle_rad[1]))
    if outside.any():
        rows[:, outside], margin[outside] = np.nan, np.nan
    felt, convective, convective_load, radiative, radiative_load, duration, s_c, s_r, overlap = rows
    convective, radiative = convective * convective_factor, radiative * radiative_factor
    return TableFlight(
        _state(given[1], margin, felt > deceleration_cap_m_s2, outside),
        felt,
        convective,
        radiative,
        convective + radiative - _missing(s_c * convective, s_r * radiative, overlap),
        convective_load * convective_factor,
        radiative_load * radiative_factor,
        duration,
        margin,
    )


def _missing(a: Array, b: Array, overlap: Array) -> Array:
    """Return the last term of equation (1), written so that nothing overflows."""
    less, more = np.minimum(a, b), np.maximum(a, b)
    ratio = np.log(np.maximum(less, 1e-30) / np.maximum(more, 1e-30))
    return np.asarray(less * np.exp(-overlap * np.log1p(np.exp(ratio / overlap))))


def _state(angle: Array, margin: Array, beyond: Mask, outside: Mask) -> npt.NDArray[np.int8]:
    """Return each case's `EntryState`; `beyond` says that the deceleration is above the cap."""
    state = np.where(beyond | (angle < RANGES.flight_path_angle_rad[0]), EntryState.TOO_STEEP, EntryState.FLOWN)
    state = np.where(margin < 0.0, EntryState.SKIPPED_OUT, state)
    return np.where(outside, EntryState.OUTSIDE, state).astype(np.int8)


def _inside(given: tuple[Array, ...]) -> Mask:
    """Return whether speed, ballistic coefficient, lift-to-drag and nose radius are within the table."""
    speed, _, beta, lift, radius = given
    inside = np.ones(speed.shape, dtype=bool)
    for value, (low, high) in (
        (speed, RANGES.speed_m_s),
        (beta, RANGES.ballistic_coefficient_kg_m2),
        (lift, RANGES.lift_to_drag),
        (radius, RANGES.nose_radius_m),
    ):
        inside &= (value >= low) & (value <= high)
    return inside


def _read(given: tuple[Array, ...]) -> tuple[Array, Array]:
    """Return rows of values (9, n) and the shallowest captured angle (n,)."""
    rows, edge = np.empty((9, given[0].size)), np.empty(given[0].size)
    for part in _parts(radius_stretch(given[4])):
        read, edge[part] = _Entries.held(*(x[part] for x in given)).read()
        for row, values in zip(rows, read, strict=True):
            row[part] = values
    return rows, edge


def _parts(kinds: npt.NDArray[np.int8]) -> Iterator[slice | npt.NDArray[np.intp]]:
    """Yield chunks of cases of one kind each."""
    if (kinds == kinds[:1]).all():
        yield from (slice(start, start + _CHUNK) for start in range(0, kinds.size, _CHUNK))
        return
    for kind in np.unique(kinds):
        chosen = np.flatnonzero(kinds == kind)
        yield from (chosen[start : start + _CHUNK] for start in range(0, chosen.size, _CHUNK))


@dataclass(frozen=True, slots=True)
class LowOrbitReturn:
    """Entry of the same vehicle from a low orbit, to compare with."""

    speed_m_s: float = 7800.0
    flight_path_angle_rad: float = float(np.radians(-1.5))


@dataclass(frozen=True, slots=True)
class EntryRatios:
    """An entry over the same vehicle's low-orbit return; arrays (n,)."""

    peak_deceleration: Array
    peak_convective: Array
    peak_total: Array
    convective_load: Array
    total_load: Array


def ratio_to_low_orbit(
    flight: Flight,
    ballistic_coefficient_kg_m2: npt.ArrayLike,
    lift_to_drag: npt.ArrayLike,
    nose_radius_m: npt.ArrayLike,
    *,
    convective_factor: npt.ArrayLike = 1.0,
    low_orbit: LowOrbitReturn | None = None,
) -> EntryRatios:
    """Compare an entry with the same vehicle's return from low orbit, flown with the same lift policy.

    Parameters
    ----------
    flight
        The entry.
    ballistic_coefficient_kg_m2, lift_to_drag, nose_radius_m, convective_factor
        What it was flown with; the factor cancels in the convective ratios. A low-orbit
        return radiates nothing here.
    low_orbit
        The return to compare with; 7.8 km/s at -1.5 degrees unless told otherwise.

    Returns
    -------
    EntryRatios
        Arrays (n,).
    """
    low = low_orbit or LowOrbitReturn()
    vehicle = (ballistic_coefficient_kg_m2, lift_to_drag, nose_radius_m)
    base = look_up(low.speed_m_s, low.flight_path_angle_rad, *vehicle, convective_factor=convective_factor)
    return EntryRatios(
        flight.peak_deceleration_m_s2 / base.peak_deceleration_m_s2,
        flight.peak_convective_w_m2 / base.peak_convective_w_m2,
        flight.peak_total_w_m2 / base.peak_total_w_m2,
        flight.convective_load_j_m2 / base.convective_load_j_m2,
        flight.total_load_j_m2 / base.total_load_j_m2,
    )


def main() -> None:
    """Make the table anew, in place of the one that ships, or at a path given."""
    write(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "data" / _FILE)


if __name__ == "__main__":
    main()
