"""Burns of finite length and starts of engines: read, bound, flown, written back."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from leadline.budget import LedgerRow, compile_plan
from leadline.errors import Issue, StudyError
from leadline.run.check import check
from leadline.run.limits import limits_of
from leadline.study import Study, from_mapping, json_schema, loads
from leadline.vehicle import BeltShell, Burn, Column, FiniteBurn, Ignition, Steering
from study.documents import FERRY, changed, issues_of

MOON = {"from_altitude": "200 km", "distance": "384400 km", "model_error": "0 m/s"}
LOW_ORBIT = {"about": "earth", "altitude": "200 km"}
HELD = "passes: 2\n    orbit: {about: earth, altitude: 420 km}"


def study_of(
    *burns: dict[str, Any], engine: dict[str, Any] | None = None, requirements: dict[str, Any] | None = None
) -> Study:
    """Build a ferry of 70 t with 0.1 weights of thrust, and these burns."""
    legs = [{"burn": f"burn {i}", "engine": "a.main", "tank": "a.main", **burn} for i, burn in enumerate(burns)]
    motor = {"isp": "450 s", "mixture_ratio": 6, "thrust": "68646.55 N", **(engine or {})}
    asked = {"reserve": {"propellant": "a.main", "at_least": "0 t"}, **(requirements or {})}
    tank = {"propellant": "lox-lh2", "load": "60 t"}
    vehicle = {"a": {"dry_mass": "10 t", "engines": {"main": motor}, "tanks": {"main": tank}}}
    return from_mapping({"leadline": 1, "title": "b", "vehicle": vehicle, "legs": legs, "requirements": asked})


def rows_of(study: Study) -> tuple[LedgerRow, ...]:
    """Fly the case at the medians."""
    medians = np.array([[each.law.median] for each in study.inputs]).reshape(len(study.inputs), 1)
    return compile_plan(study.mission).ledger(medians).rows[1:]


def did(row: LedgerRow, quantity: str) -> float:
    return float(row.quantities[quantity][0])


def finite_of(study: Study, leg: int = 0) -> FiniteBurn:
    burn = study.mission.legs[leg]
    if not isinstance(burn, Burn) or burn.finite is None:
        raise TypeError(burn)
    return burn.finite


def test_a_departure_from_a_low_orbit_costs_about_three_kilometres_a_second_and_loses_as_integrated() -> None:
    row = rows_of(study_of({"cost": {"to_moon": MOON}, "passes": 2}))[0]
    # practice: leaving a 200 km orbit for the Moon takes 3.0 to 3.15 km/s
    assert 3_000.0 < did(row, "delta_v_m_s") < 3_150.0
    # cross-checked: dv = 3100 m/s, 450 s, 0.1 weights, integrated with SciPy: 118.6 m/s, 3.86 h. Here it is 3131 m/s;
    # the loss grows with dv times arc squared times R(dv/vc) of the leading order, to the power of about 3.5
    assert did(row, "loss_m_s") == pytest.approx(118.6 * (3131.0 / 3100.0) ** 3.5, rel=0.03)
    assert row.elapsed_s[0] / 3600.0 == pytest.approx(3.90, rel=0.02)


def test_a_fixed_number_is_followed_by_hand() -> None:
    study = study_of({"cost": "3.1 km/s", "orbit": LOW_ORBIT, "steering": "tangential"})
    row = rows_of(study)[0]
    # cross-checked: integrated with SciPy, 378.9 m/s; exact: m0 exp(-(dv + loss)/ve)
    assert did(row, "loss_m_s") == pytest.approx(378.9, rel=0.003)
    left = 70_000.0 * np.exp(-(3_100.0 + did(row, "loss_m_s")) / (450.0 * 9.80665))
    assert row.stack_mass_kg[0] == pytest.approx(left, rel=1e-12)
    assert [each.name for each in study.mission.requirements][1:] == ["completion of burn 0", "supply of a.main"]


@pytest.mark.parametrize(
    ("cost", "end"),
    [
        ({"to_moon": MOON}, ("earth", "departure")),
        ({"lunar_capture": {"low": "100 km", "distance": "384400 km"}}, ("moon", "arrival")),
        ({"lunar_capture": {"low": "100 km", "high": "100 km", "distance": "384400 km"}}, ("moon", "arrival")),
        ({"from_moon": {"low": "100 km", "distance": "384400 km"}}, ("moon", "departure")),
        ({"escape": {"about": "earth", "low": "200 km", "high": "200 km", "excess": "1 km/s"}}, ("earth", "departure")),
        ({"capture": {"about": "moon", "low": "200 km", "high": "200 km", "excess": "1 km/s"}}, ("moon", "arrival")),
    ],
)
def test_geometry_tells_the_orbit(cost: Any, end: tuple[str, str]) -> None:
    study = study_of({"cost": cost, "steering": "tangential"})
    finite = finite_of(study)
    assert (finite.body, "arrival" if finite.arrives else "departure") == end
    assert 0.0 < did(rows_of(study)[0], "loss_m_s") < 500.0


def test_a_dispersed_altitude_is_one_number_for_cost_and_loss() -> None:
    altitude = {"low": "380 km", "high": "440 km"}
    study = study_of({"cost": {"to_moon": {**MOON, "from_altitude": altitude}}, "passes": 3})
    assert [each.name for each in study.inputs] == ["legs.burn 0.cost.to_moon.from_altitude"]
    assert finite_of(study).altitude_m == Column(0, "legs.burn 0.cost.to_moon.from_altitude")


def test_a_given_cost_takes_the_orbit_from_its_key() -> None:
    orbit = {"about": "moon", "altitude": {"low": "90 km", "high": "110 km"}, "way": "arrival"}
    study = study_of({"cost": "820 m/s", "orbit": orbit, "steering": "tangential"})
    finite = finite_of(study)
    assert (finite.arrives, finite.steering, finite.passes) == (True, Steering.TANGENTIAL, 1)
    assert [each.name for each in study.inputs] == ["legs.burn 0.orbit.altitude"]


def test_belts_by_name_or_by_their_altitudes() -> None:
    burn = {"cost": {"to_moon": MOON}, "passes": 2}
    bound = {"belts": {"belt_hours": {"at_most": "9 h"}}, "inner": {"belt_hours": {"at_most": "4 h", "belt": "inner"}}}
    published = study_of({**burn, "belts": "encyclopaedia"}, requirements=bound)
    own = study_of({**burn, "belts": {"inner": ["1000 km", "12000 km"], "outer": ["13000 km", "60000 km"]}})
    row = rows_of(published)[0]
    # cross-checked: 3.85 h and 3.63 h at dv = 3100 m/s, integrated with SciPy
    assert did(row, "belt_time_s.inner") / 3600.0 == pytest.approx(3.85, rel=0.03)
    assert did(row, "belt_time_s.outer") == pytest.approx(did(rows_of(own)[0], "belt_time_s.outer"), rel=1e-12)
    assert finite_of(own).belts[0] == BeltShell("inner", 1e6, 12e6)
    assert finite_of(published).belts[0] == BeltShell("inner", 1e6, 12e6, "encyclopaedia")
    labels = {label.name: label for label in compile_plan(published.mission).requirements}
    assert (labels["belts"].kind, labels["belts"].unit) == ("belt_hours", "s")
    assert labels["inner"].sentence == "the time in the inner radiation belt is at most 4 h"


def test_each_start_draws_its_own_number() -> None:
    engine = {"ignites": "99.6 %", "count": 3, "needed": 2, "thrust": "20 kN"}
    study = study_of({"cost": {"to_moon": MOON}, "passes": 2}, {"cost": "10 m/s", "running": 2}, engine=engine)
    names = [f"legs.{place}" for place in ("burn 0.ignition#1", "burn 0.ignition#2", "burn 1.ignition#1")]
    assert [each.name for each in study.inputs] == names
    assert [r.name for r in study.mission.requirements if isinstance(r, Ignition)] == [
        "ignition of burn 0",
        "ignition of burn 1",
    ]
    looked = check(study)
    assert [each.unit for each in looked.inputs] == ["", "", ""]
    margins = {each.name: each.margin for each in looked.nominal.requirements}
    # exact: P(2 of 3 light) and P(2 of 2 light) less the median draw of one half
    assert margins["ignition of burn 0"] == pytest.approx(3 * 0.996**2 * 0.004 + 0.996**3 - 0.5)
    assert margins["ignition of burn 1"] == pytest.approx(0.996**2 - 0.5)


def test_all_engines_are_needed_unless_said() -> None:
    study = study_of({"cost": "10 m/s"}, engine={"count": 3, "ignites": 0.9})
    engine = study.mission.elements[0].engines[0]
    assert (engine.count, engine.needed) == (3, 3)


def test_what_is_not_asked_for_changes_nothing() -> None:
    study = loads(FERRY)
    legs = [leg for leg in study.mission.legs if isinstance(leg, Burn)]
    assert all((leg.finite, leg.ignitions, leg.running) == (None, (), None) for leg in legs)
    written = study.resolved()
    assert set(written["legs"][1]) == {"burn", "engine", "tank", "cost"}
    assert not set(written["vehicle"]["plover"]["engines"]["main"]) & {"count", "needed", "ignites"}


def test_the_resolved_study_is_the_same_study() -> None:
    burn = {"cost": {"to_moon": MOON}, "passes": 2, "belts": {"inner": ["1000 km", "12000 km"]}}
    second = {"cost": "800 m/s", "steering": "fixed", "orbit": LOW_ORBIT, "running": 1}
    engine = {"ignites": {"low": "98 %", "high": "99.9 %"}, "count": 2, "needed": 1}
    asked = {"lost": {"loss": ["burn 0", "burn 1"], "at_most": "150 m/s"}, "b": {"belt_hours": {"at_most": "9 h"}}}
    study = study_of(burn, second, engine=engine, requirements=asked)
    again = from_mapping(study.resolved())
    assert again.digest == study.digest
    assert again.mission == study.mission
    assert [each.name for each in again.inputs] == [each.name for each in study.inputs]
    assert study.resolved()["legs"][0]["belts"] == {"inner": ["1000000.0 m", "12000000.0 m"]}
    assert study.with_values({"legs.burn 0.passes": "3"}).digest != study.digest


def test_values_may_turn_it_on_and_off() -> None:
    study = study_of({"cost": {"to_moon": MOON}})
    longer = study.with_values({"legs.burn 0.passes": "4"})
    assert finite_of(longer).passes == 4
    assert longer.with_values({"legs.burn 0.passes": None}).digest == study.digest


def test_limits_say_what_is_left_out() -> None:
    at_once, at_length = (
        " ".join(limits_of(study_of({"cost": {"to_moon": MOON}, **more}))) for more in ({}, {"passes": 2})
    )
    assert "at once" in at_once
    assert "at once" not in at_length
    assert "Passes share cost and loss evenly" in at_length
    belts = limits_of(study_of({"cost": {"to_moon": MOON}, "passes": 2, "belts": "glossary"}, engine={"ignites": 0.9}))
    assert any("on the way out only" in limit for limit in belts)
    assert any("Engines light" in limit for limit in belts)


def refused(*burns: dict[str, Any], **more: Any) -> tuple[Issue, ...]:
    with pytest.raises(StudyError) as caught:
        study_of(*burns, **more)
    return caught.value.issues


def test_refusals_that_take_more_than_one_change() -> None:
    burn = {"cost": "3.1 km/s", "orbit": LOW_ORBIT, "passes": 2}
    text = changed(FERRY, ("        thrust: 66 kN\n", ""), ("    cost: 450 m/s", f"    cost: 450 m/s\n    {HELD}"))
    issue = next(issue for issue in issues_of(text) if issue.path[0] == "legs")
    assert (issue.path, issue.code) == (("legs", 4, "passes"), "no-thrust")
    issue = refused(burn, engine={"isp": "120 s"})[0]
    assert (issue.path, issue.code) == (("legs", 0, "cost"), "beyond-table")
    assert "2.5 exhaust velocities" in issue.message
    issue = refused({**burn, "running": 1}, engine={"count": 3, "needed": 2})[0]
    assert (issue.path, issue.code) == (("legs", 0, "running"), "too-few")
    asked = {"completion of burn 0": {"propellant": "a.main", "at_least": "0 t"}}
    assert refused(burn, requirements=asked)[0].code == "twice"
    outer = {"b": {"belt_hours": {"at_most": "9 h", "belt": "outer"}}}
    issue = refused({**burn, "belts": {"inner": ["1000 km", "12000 km"]}}, requirements=outer)[0]
    assert "outer belt" in issue.message


def test_the_schema_offers_the_keys() -> None:
    text = str(json_schema())
    for key in ("steering", "passes", "belts", "running", "ignites", "needed", "belt_hours", "'loss'"):
        assert key in text
