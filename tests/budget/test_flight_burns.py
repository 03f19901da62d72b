"""Burns that were flown, through the core: propellant and time from mass, velocity change, thrust and impulse."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import pytest

from budget.missions import ENGINE, TANK, ferry_mission, storable_tank
from leadline.budget import LedgerRow, compile_plan
from leadline.constants import STANDARD_GRAVITY_M_S2
from leadline.vehicle import Burn, BurnTime, Engine

# published flight records, the citation beside each: mass before, kg; specific impulse, s; velocity change, m/s;
# thrust, N; propellant used, kg; burn time, s.
FLOWN: Final = {
    # NASA/JPL Juno news release 2012-08-30; mass, thrust and impulse from a public Juno page
    "Juno DSM-1": (3_625.0, 318.0, 344.0, 645.0, 376.0, 1_779.0),
    # NASA release 01-201 and JPL spacecraft page; velocity change and thrust second-hand; impulse from thrust and time
    "Mars Odyssey MOI": (725.0, 318.8, 1_420.0, 695.0, 262.8, 1_182.0),
    # ESA news 28 Jul 2016; velocity change and impulse from memory
    "ExoMars TGO DSM-1": (4_332.0, 321.0, 326.5, 424.0, None, 3_120.0),
    # ISRO statements 2013 and 2014; impulse and seconds from memory
    "Mars Orbiter Mission TMI": (998.1, 310.0, 648.0, 440.0, 190.0, 1_328.89),
    # JPL releases 3 Dec 1998 and 24 Aug 2004; impulse from memory
    "Cassini DSM": (5_600.0, 308.0, 450.0, 445.0, None, 5_280.0),
}
WITHIN: Final = 0.03
"""Burn times are told to the minute or so, thrust by its class: the records agree with themselves to 2.1 %."""

Record = tuple[float, float, float, float, float | None, float]


def fly(record: Record) -> LedgerRow:
    mass, isp, cost, thrust, _, _ = record
    engine = Engine(ENGINE, isp, thrust, 1.65)
    legs = (Burn("burn", ENGINE, TANK, cost),)
    tank = storable_tank(load_kg=0.5 * mass)
    mission = ferry_mission(legs, (BurnTime("t", ("burn",), 1e4),), tank=tank, engine=engine, dry_mass_kg=0.5 * mass)
    return compile_plan(mission).ledger(np.empty((0, 1))).rows[1]


@pytest.mark.parametrize("record", FLOWN.values(), ids=FLOWN)
def test_propellant_and_time_are_those_of_the_flight(record: Record) -> None:
    row = fly(record)
    used, seconds = (float(row.quantities[name][0]) for name in ("propellant_burned_kg", "burn_time_s"))
    assert seconds == pytest.approx(record[5], rel=WITHIN)
    if record[4] is not None:
        assert used == pytest.approx(record[4], rel=WITHIN)
    # exact: the rocket equation, from the masses of the ledger
    gained = record[1] * STANDARD_GRAVITY_M_S2 * math.log(record[0] / float(row.stack_mass_kg[0]))
    assert gained == pytest.approx(record[2], rel=1e-12)


def test_a_record_that_cannot_be_is_not_met() -> None:
    # APL release 3 Jul 1997, thrust and impulse from memory: 11 minutes at 450 N cannot give 269 m/s to 805 kg
    row = fly((805.0, 313.0, 269.0, 450.0, None, 660.0))
    assert float(row.quantities["burn_time_s"][0]) < 0.75 * 660.0
