"""A study in closed form: one burn, so that every margin is linear in what is dispersed; all numbers invented.

With e = exp(-delta-v / exhaust velocity), what is burnable after the burn is
0.99 load - (dry mass + load) (1 - e), and the reserve's margin is that less its bound.
"""

from __future__ import annotations

import math

from scipy.special import ndtr

from leadline.study import Study, loads

__all__ = ["BOUND_SD_KG", "DRY_SD_KG", "HOPPER", "MARGIN_KG", "SLOPE", "chance", "hopper", "load_for_kg"]

HOPPER = """\
leadline: 1
title: A hop with one burn
ask: {chance: 90 %, confidence: 90 %}
vehicle:
  hopper:
    dry_mass: {mean: 10 t, sd: 0.2 t}
    engines:
      main: {isp: 316 s, mixture_ratio: 1.65}
    tanks:
      hold: {propellant: n2o4-mmh, load: 8 t, load_ratio: 1.65, volume: 12 m3, unusable: 1 %}
legs:
  - {burn: out, engine: hopper.main, tank: hopper.hold, cost: 1600 m/s}
  - {coast: wait, lasts: {low: 1 d, high: 2 d}}
requirements:
  reserve: {propellant: hopper.hold, at_least: {mean: 500 kg, sd: 50 kg}, after: out}
  light: {stack_mass: {at_most: 14 t}, after: out}
"""

DRY_KG, DRY_SD_KG, LOAD_KG, BOUND_KG, BOUND_SD_KG = 10_000.0, 200.0, 8_000.0, 500.0, 50.0
KEPT = math.exp(-1600.0 / (316.0 * 9.80665))
"""Share of the mass that a burn leaves: the rocket equation with standard gravity (CGPM 1901)."""
SLOPE = 1.0 - KEPT
"""How much of the reserve a kilogram of dry mass takes."""
MARGIN_KG = 0.99 * LOAD_KG - (DRY_KG + LOAD_KG) * SLOPE - BOUND_KG
"""The reserve's margin with everything at its middle."""


def hopper(**replaced: str) -> Study:
    """Return the study, with values at some of its places replaced; ``__`` stands for a dot."""
    study = loads(HOPPER)
    values: dict[str, object] = {place.replace("__", "."): value for place, value in replaced.items()}
    return study.with_values(values) if values else study


def chance(dry_sd_kg: float = DRY_SD_KG, bound_sd_kg: float = BOUND_SD_KG, margin_kg: float = MARGIN_KG) -> float:
    """Return the chance of a reserve: a normal sum. What else can fail is at least 8 deviations away."""
    return float(ndtr(margin_kg / math.hypot(SLOPE * dry_sd_kg, bound_sd_kg)))


def load_for_kg(dry_kg: float = DRY_KG, bound_kg: float = BOUND_KG) -> float:
    """Return the load that leaves just the bound: the same equation solved for it."""
    return (bound_kg + dry_kg * SLOPE) / (0.99 - SLOPE)
