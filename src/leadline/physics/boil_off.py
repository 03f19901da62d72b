"""How much of a cryogenic liquid boils away while time passes.

Two descriptions, each for one liquid on its own: a fraction of the contents per unit of
time, or a heat leak over the heat that vents one kilogram.
"""

from __future__ import annotations

from typing import Final, TypeVar

import numpy as np
import numpy.typing as npt

from leadline.constants import Source, Standing

__all__ = ["SOURCE", "boiled_by_heat", "boiled_by_rate", "vent_heat", "vent_rate"]

Array = npt.NDArray[np.float64]
Value = TypeVar("Value", float, Array)

SOURCE: Final = Source(
    "Energy balance of a tank vented at constant pressure: heat leak over effective heat of venting",
    "derived; effective heat h (rho_l / (rho_l - rho_v)), liquid and vapour saturated",
    Standing.COMPUTED,
)


def vent_heat(latent_heat_j_kg: Value, liquid_density_kg_m3: Value, vapour_density_kg_m3: Value) -> Value:
    """Heat that drives one kilogram overboard from a tank held at constant pressure.

    Some of the vapour made stays behind and fills the room the liquid leaves, so more
    heat goes in per kilogram vented than the latent heat alone.

    Parameters
    ----------
    latent_heat_j_kg : float or (n,)
        Latent heat of evaporation, J/kg.
    liquid_density_kg_m3, vapour_density_kg_m3 : float or (n,)
        Densities of the saturated phases, kg/m3.

    Returns
    -------
    float or (n,)
        Effective heat of venting, J/kg.
    """
    liquid_share = liquid_density_kg_m3 / (liquid_density_kg_m3 - vapour_density_kg_m3)
    return latent_heat_j_kg * liquid_share


def boiled_by_rate(
    contents_kg: Array,
    rate_per_s: Array | float,
    duration_s: Array | float,
    out: Array | None = None,
) -> Array:
    """Mass boiled away at a constant fraction of the contents per unit of time.

    Compounds, so that a coast split in two loses what the whole coast loses. A tank with
    nothing in it (contents zero or, in shortfall, negative) loses nothing.

    Parameters
    ----------
    contents_kg : (n,)
        Liquid at the start, kg.
    rate_per_s : float or (n,)
        Fraction lost per second, 1/s.
    duration_s : float or (n,)
        How long, s.
    out : (n,), optional
        Where to write; must not be `contents_kg`.

    Returns
    -------
    (n,)
        Mass lost, kg: m (1 - exp(-k t)), at least 0.
    """
    if np.ndim(rate_per_s) == 0 and np.ndim(duration_s) == 0:
        lost = np.multiply(contents_kg, -np.expm1(-rate_per_s * duration_s), out=out)
    else:
        lost = np.multiply(rate_per_s, duration_s, out=out)
        lost = np.negative(lost, out=out)
        lost = np.expm1(lost, out=out)
        lost = np.multiply(lost, contents_kg, out=out)
        lost = np.negative(lost, out=out)
    result: Array = np.maximum(lost, 0.0, out=out)
    return result


def vent_rate(heat_leak_w: Array | float, vent_heat_j_kg: Array | float) -> Array | float:
    """Mass vented per second by a heat leak.

    Parameters
    ----------
    heat_leak_w : float or (n,)
        Heat that reaches this liquid, W.
    vent_heat_j_kg : float or (n,)
        Effective heat of venting, J/kg; see `vent_heat`.

    Returns
    -------
    float or (n,)
        Mass per second while there is liquid, kg/s.
    """
    return heat_leak_w / vent_heat_j_kg


def boiled_by_heat(
    contents_kg: Array,
    vent_rate_kg_s: Array | float,
    duration_s: Array | float,
    out: Array | None = None,
) -> Array:
    """Mass boiled away by a constant heat leak, never more than there is.

    Parameters
    ----------
    contents_kg : (n,)
        Liquid at the start, kg; negative is a shortfall and loses nothing.
    vent_rate_kg_s : float or (n,)
        Mass vented per second, kg/s; see `vent_rate`.
    duration_s : float or (n,)
        How long, s.
    out : (n,), optional
        Where to write; must not be `contents_kg`.

    Returns
    -------
    (n,)
        Mass lost, kg, between 0 and the contents.
    """
    lost = np.multiply(vent_rate_kg_s, duration_s, out=out)
    lost = np.minimum(lost, contents_kg, out=out)
    if np.min(contents_kg) < 0.0:  # a fourth of the cost of always taking the maximum
        lost = np.maximum(lost, 0.0, out=out)
    return lost
