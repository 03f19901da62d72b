"""A small study for the tests of runs; all numbers invented, chosen so that about nine cases in ten succeed."""

from __future__ import annotations

import os
import signal
import time

from leadline.run.engine import Computed, Control, Request, compute
from leadline.run.executors import Executor, Stopped
from leadline.study import Study, loads

__all__ = ["BLOCK", "FERRY", "Dies", "Slow", "computed", "ferry"]

BLOCK = 2**14
"""Cases in a block of independent draws."""

FERRY = """\
leadline: 1
title: A ferry out and back
ask: {chance: 85 %, confidence: 90 %}
vehicle:
  ferry:
    dry_mass: {mean: 10 t, sd: 0.2 t}
    engines:
      main: {isp: {mean: 316 s, sd: 1 s}, mixture_ratio: {mean: 1.65, sd: 0.01}}
    tanks:
      hold: {propellant: n2o4-mmh, load: {mean: 8 t, sd: 0.1 t}, load_ratio: 1.65, volume: 8 m3, unusable: 1 %}
legs:
  - {burn: out, engine: ferry.main, tank: ferry.hold, cost: {mean: 900 m/s, sd: 10 m/s}}
  - {coast: wait, lasts: {low: 1 d, high: 2 d}}
  - {burn: back, engine: ferry.main, tank: ferry.hold, cost: {mean: 700 m/s, sd: 10 m/s}}
requirements:
  reserve: {propellant: ferry.hold, at_least: 500 kg, after: back}
  light enough: {stack_mass: {at_most: 11 t}, after: back}
options:
  light: {vehicle.ferry.dry_mass: {mean: 9.9 t, sd: 0.2 t}}
  as before: {vehicle.ferry.dry_mass: {mean: 10 t, sd: 0.2 t}}
"""


def ferry() -> Study:
    """Return the study."""
    return loads(FERRY)


def computed(request: Request, executor: Executor | None = None, control: Control | None = None) -> Computed:
    """Compute the study."""
    return compute(ferry(), request, executor, control)


class Dies:
    """A task that takes its worker with it."""

    def __call__(self, cases: range, stopped: Stopped) -> tuple[range, None]:
        """Kill this very process."""
        del stopped
        os.kill(os.getpid(), signal.SIGKILL)
        return cases, None


class Slow:
    """A task whose blocks take a while, so that it can be stopped between them."""

    def __call__(self, cases: range, stopped: Stopped) -> tuple[range, int]:
        """Take a twentieth of a second for each block."""
        for start in range(cases.start, cases.stop, BLOCK):
            if start > cases.start and stopped():
                return range(cases.start, start), start
            time.sleep(0.05)
        return cases, cases.stop
