"""How the table of entries is made: its nodes flown, packed and written.

Every node is flown by the steps of `leadline.physics.entry_steps` with lift policy ``level``.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from leadline.physics.entry import shallowest_angle
from leadline.physics.entry_grid import (
    DEPTH,
    FAST,
    LEAST_OVERLAP,
    LIFT,
    LIFT_UNIT,
    LOG_BETA,
    RADII_M,
    RANGES,
    SPEED,
    levels,
    skip_root,
    top_angle,
    unstretch,
)
from leadline.physics.entry_steps import Fall, LiftPolicy, Vehicle, follow

__all__ = ["flown_nodes", "skip_edge_nodes", "write"]

Array = npt.NDArray[np.float64]


def skip_edge_nodes() -> Array:
    """Return the c of `entry_grid`'s equation (1) at the nodes of speed, ballistic coefficient and lift-to-drag."""
    V, beta, lift = np.meshgrid(FAST.nodes, np.exp(LOG_BETA.nodes), LIFT_UNIT * LIFT.nodes, indexing="ij")
    angle = shallowest_angle(V.ravel(), beta.ravel(), lift.ravel()).reshape(V.shape)
    return np.asarray(-angle / skip_root(V))


def flown_nodes(speed_m_s: float, edge: Array) -> Array:
    """Table columns (depth, beta, lift, column) at one speed; `edge` is the skip angle (beta, lift)."""
    even, log_beta, lift = np.meshgrid(DEPTH.nodes, LOG_BETA.nodes, LIFT_UNIT * LIFT.nodes, indexing="ij")
    top = top_angle(edge)
    angle = (top - unstretch(even) * (top - RANGES.flight_path_angle_rad[0])).ravel()
    V, beta = np.full(angle.shape, speed_m_s), np.exp(log_beta).ravel()
    flown = _Nodes(V, angle, beta, lift.ravel())
    return np.stack(flown.columns(), axis=-1).reshape(*even.shape, -1)


@dataclass(frozen=True, slots=True)
class _Nodes:
    """Nodes of the table at one speed (n,)."""

    V: Array
    angle: Array
    beta: Array
    lift: Array

    def follow(self, radii: Array, convective: Array, radiative: Array) -> Fall:
        """Fly them with nose radii and factors on heating (m, n)."""
        fall = follow(
            self.V, self.angle, Vehicle(self.beta, self.lift, radii, convective, radiative), LiftPolicy.LEVEL, 0.1, 8000
        )
        if fall.left.any() or np.isnan(fall.peaks).any():
            raise ArithmeticError(f"a node at {self.V[0]} m/s was not captured")
        return fall

    def columns(self) -> list[Array]:
        """Return what is tabulated, scaled so that it varies slowly; `entry_table` has the way back."""
        radii = np.broadcast_to(RADII_M[:, None], (RADII_M.size, self.V.size))
        unit = np.ones_like(radii)
        fall = self.follow(radii, unit, unit)
        radiative, radiative_load = fall.radiative, fall.loads[-RADII_M.size :]
        root, mass = np.sqrt(self.beta), self.beta**1.22
        return [
            *np.log(np.fmax(fall.felt, 1e-3)),
            *np.log(np.fmax(fall.convective[:, 1], 1.0) / (self.V**3 * root)),
            np.log(fall.loads[2] / root),
            np.log(fall.loads[0]),
            (radiative[1] / mass) ** 0.25,
            (radiative_load[1] / mass) ** 0.25,
            *_powers(radiative),
            *_powers(radiative_load),
            *self.apart(np.fmax(*fall.convective[:, 1]), radiative[1]),
        ]

    def apart(self, convective: Array, radiative: Array) -> tuple[Array, Array, Array]:
        """Return s_c, s_r and e of `entry_table`'s equation (1), from mixtures of the two scaled to a peak of 1."""
        lit = radiative > 0.0
        if not lit.any():
            return np.ones_like(radiative), np.ones_like(radiative), np.ones_like(radiative)

        def shortfall(share: Array) -> Array:
            factors = ((1.0 - share) / convective, np.where(lit, share / np.where(lit, radiative, 1.0), 0.0))
            return np.fmax(1.0 - self.follow(np.ones_like(share), *factors).total, 0.0)

        little = np.full((2, self.V.size), 0.05)
        little[1] = 0.95
        s_r, s_c = np.clip(np.where(lit, shortfall(little) / 0.05, 1.0), 1e-4, 1.0)
        middle = shortfall((s_c / (s_c + s_r))[None])[0]  # where a = b, so that the missing part is 2^-e a
        e = np.clip(-np.log2(np.fmax(middle, 1e-9) * (s_c + s_r) / (s_c * s_r)), LEAST_OVERLAP, 1.0)
        return s_c, s_r, np.where(lit, e, 1.0)


def _powers(radiative: Array) -> list[Array]:
    """Powers of the nose radius between 0.3, 1; 1, 2; 1, 6 m (rows of `RADII_M`); 0.5 where dark."""
    lit = radiative[1] > 0.0
    safe = np.where(lit, radiative, 1.0)
    return [np.where(lit, np.log(safe[k] / safe[1]) / np.log(RADII_M[k]), 0.5) for k in (0, 2, 3)]


def write(path: Path) -> None:
    """Fly the whole table and write it: three minutes on one thread.

    Parameters
    ----------
    path
        Where the file goes; a name ending in .npz.
    """
    c = skip_edge_nodes()
    slow = SPEED.size - len(c)
    edges = [-c[max(k - slow, 0)] * skip_root(np.asarray(V)) for k, V in enumerate(SPEED.nodes)]
    values = np.stack([flown_nodes(float(V), edge) for V, edge in zip(SPEED.nodes, edges, strict=True)])
    values = np.moveaxis(values, -1, 0)
    low, high = values.min(axis=(1, 2, 3, 4), keepdims=True), values.max(axis=(1, 2, 3, 4), keepdims=True)
    whole = np.round((values - low) / (high - low) * levels()).astype(np.uint16)
    for axis in (1, 2):  # differences of neighbours, and bytes of a kind together, so that the file packs well
        whole = np.diff(whole, axis=axis, prepend=np.uint16(0))
    packed = np.stack((whole & 0xFF, whole >> 8)).astype(np.uint8)
    np.savez_compressed(path, packed=packed, low=low.astype(np.float32), high=high.astype(np.float32), edge=c)
