"""Studies written for the tests, of invented vehicles."""

from __future__ import annotations

from typing import Final

from leadline.errors import Issue, StudyError
from leadline.study import Study, loads

__all__ = ["FERRY", "LEAST", "ORBITER", "changed", "issues_of", "refused"]

FERRY: Final = """\
leadline: 1
title: Plover to the far station and back
about: A ferry with a drop tank that is filled in orbit.
sources: [Engine report, Tank report]
ask: {chance: 95 %, confidence: 90 %}
vehicle:
  plover:
    dry_mass: {mean: 18.4 t, sd: 0.5 t}
    engines:
      main:
        isp: {mean: 447 s, sd: 1.6 s}
        thrust: 66 kN
        mixture_ratio: {mean: 5.9, sd: 0.04}
        start_loss: 25 kg
    tanks:
      hold: {propellant: lox-lh2, load: 9 t, volume: 28 m3, ullage: 4 %}
  creel:
    dry_mass: {low: 5.4 t, likely: 5.9 t, high: 7.1 t}
    tanks:
      main:
        propellant: lox-lh2
        load: 39 t
        volume: 119 m3
        unusable: {low: 0.6 %, likely: 1 %, high: 2 %}
        heat_leak: {oxidiser: 90 W, fuel: {median: 240 W, spread: 1.35}}
legs:
  - load: fill
    tank: creel.main
  - burn: departure
    engine: plover.main
    tank: creel.main
    cost: {mean: 3.13 km/s, sd: 12 m/s}
  - drop: let go
    element: creel
  - coast: outbound
    lasts: {low: 84 h, high: 110 h}
  - burn: return
    engine: plover.main
    tank: plover.hold
    cost: 450 m/s
requirements:
  reserve: {propellant: plover.hold, at_least: 0.9 t, after: return}
  fits: {fill: creel.main}
  lifted: {lifted: [creel], at_most: 12 t}
  burning: {burn_time: [departure, return], at_most: 45 min}
  light: {stack_mass: {at_most: 90 t}, after: departure}
  soon: {elapsed: {at_most: 12 d}}
  spare: {delta_v: {engine: plover.main, tank: plover.hold}, at_least: 50 m/s}
dependence:
  - {between: [plover.dry_mass, creel.dry_mass], rank: 0.4}
options:
  no creel:
    vehicle.creel: null
    legs.fill: null
    legs.let go: null
    legs.departure.tank: plover.hold
    requirements.fits: null
    requirements.lifted: null
    dependence: []
  lighter: {plover.dry_mass: 17 t, dependence: null}
"""

ORBITER: Final = """\
leadline: 1
title: A storable orbiter about another planet
vehicle:
  whimbrel:
    dry_mass: 1.2 t
    engines: {apogee: {isp: 318 s, mixture_ratio: 1.65}}
    tanks: {main: {propellant: n2o4-mmh, load: 900 kg}}
legs:
  - {coast: cruise, lasts: 200 d}
  - {burn: insertion, engine: whimbrel.apogee, tank: whimbrel.main, cost: {mean: 1 km/s, sd: 10 m/s}}
requirements:
  left: {propellant: whimbrel.main, at_least: 10 kg, count: total}
"""

LEAST: Final = """\
leadline: 1
title: The least there is
vehicle: {stone: {dry_mass: 1 t}}
legs: [{coast: drift, lasts: 1 d}]
requirements: {light: {stack_mass: {at_most: 2 t}}}
"""


def changed(text: str, *pairs: tuple[str, str]) -> str:
    """Replace parts of a text, each of which must be there once or more; the first is replaced."""
    for old, new in pairs:
        if old not in text:
            raise ValueError(f"{old!r} is not in the text")
        text = text.replace(old, new, 1)
    return text


def issues_of(text: str) -> tuple[Issue, ...]:
    """Load a text and return what is wrong with it."""
    try:
        loads(text)
    except StudyError as error:
        return error.issues
    return ()


def refused(text: str) -> Issue:
    """Load a text that has exactly one thing wrong, and return it."""
    issues = issues_of(text)
    if len(issues) != 1:
        raise AssertionError("\n".join(str(issue) for issue in issues) or "nothing was refused")
    return issues[0]


def law(study: Study, name: str) -> object:
    """Return the law of an input."""
    return next(given.law for given in study.inputs if given.name == name)
