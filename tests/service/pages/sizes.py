"""Studies of any size, and one whose every name is hostile; all numbers invented."""

from __future__ import annotations

from typing import Final

import yaml

__all__ = ["HOSTILE", "TITLE", "hostile_study", "sized_study"]

TITLE: Final = (
    "<img src=x onerror=alert(1)> \"quoted\" 'twice' </script><b>bold</b> "
    "\u202eright to left\u202c \u05e9\u05dc\u05d5\u05dd & so on"
)
HOSTILE: Final = "<i>&\"'\u05e9\u05dc\u05d5\u05dd</i>"
HEAD: Final = """\
leadline: 1
title: A ship of {dispersions} uncertain numbers
ask: {{chance: 85 %, confidence: 90 %}}
vehicle:
  ship:
    dry_mass: {{mean: 10 t, sd: 0.2 t}}
    engines:
      main: {{isp: {{mean: 316 s, sd: 1 s}}, mixture_ratio: {{mean: 1.65, sd: 0.01}}}}
    tanks:
      hold: {{propellant: n2o4-mmh, load: {{mean: 8 t, sd: 0.1 t}}, load_ratio: 1.65, volume: 8 m3, unusable: 1 %}}
"""


def sized_study(requirements: int, dispersions: int) -> str:
    """Return a study of so many requirements and dispersed numbers, at least 5 of them.

    Four numbers of the ship have a law; every leg adds one more.
    """
    count = dispersions - 4
    cost = f"{{mean: {1600 / count:.3f} m/s, sd: {20 / count:.4f} m/s}}"
    legs = [
        f"  - {{burn: leg {number}, engine: ship.main, tank: ship.hold, cost: {cost}}}"
        for number in range(1, count + 1)
    ]
    wanted = ["  reserve: {propellant: ship.hold, at_least: 500 kg}"]
    wanted += [
        f"  mass {number}: {{stack_mass: {{at_most: {10.6 + 0.02 * number:.2f} t}}}}"
        for number in range(1, requirements)
    ]
    head = HEAD.format(dispersions=dispersions)
    return "\n".join([head.rstrip(), "legs:", *legs, "requirements:", *wanted, ""])


def hostile_study(title: str = TITLE) -> str:
    """Return a study whose title and names are markup, quotes and right-to-left text."""
    tree = yaml.safe_load(sized_study(2, 5))
    tree["title"] = title
    tree["vehicle"] = {HOSTILE: tree["vehicle"]["ship"]}
    tree["legs"][0] |= {"burn": HOSTILE, "engine": f"{HOSTILE}.main", "tank": f"{HOSTILE}.hold"}
    tree["requirements"] = {HOSTILE: {"propellant": f"{HOSTILE}.hold", "at_least": "500 kg"}}
    tree["options"] = {HOSTILE: {f"vehicle.{HOSTILE}.dry_mass": "9.8 t"}}
    return yaml.safe_dump(tree, allow_unicode=True, sort_keys=False)
