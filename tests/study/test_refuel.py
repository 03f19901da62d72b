"""Tanker campaigns from the text of a study to its answer."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

from leadline.budget import compile_plan
from leadline.run.engine import run_study
from leadline.run.units_of_inputs import units_of_inputs
from leadline.sampling import Uniform
from leadline.study import Study, from_mapping, loads
from leadline.vehicle import Refuel
from study.documents import FERRY, changed, issues_of, law, refused

LEG = "  - load: fill\n    tank: creel.main\n"
CAMPAIGN = (
    "  - refuel: fill\n    tank: creel.main\n    flights: 5\n    spare: 1\n"
    "    delivered: {mean: 8.4 t, sd: 0.3 t}\n    arrives: 97 %\n"
    "    every: {low: 5 d, likely: 8 d, high: 16 d}\n    deadline: 60 d\n"
)
FILLED = changed(
    FERRY.partition("options:")[0], (LEG, CAMPAIGN), ("  reserve:", "  few: {flights: fill, at_most: 5}\n  reserve:")
)


def depot(**leg: Any) -> dict[str, Any]:
    """Write a study that only fills a tank of storable propellant."""
    return {
        "leadline": 1,
        "title": "a depot",
        "vehicle": {"depot": {"dry_mass": "3 t", "tanks": {"main": {"propellant": "n2o4-mmh", "load": "50 t"}}}},
        "legs": [{"refuel": "fill", "tank": "depot.main", "delivered": "10 t", "every": "8 d", **leg}],
        "requirements": {"few": {"flights": "fill", "at_most": 5}},
    }


def leg_of(study: Study) -> Refuel:
    """Give the campaign."""
    return next(leg for leg in study.mission.legs if isinstance(leg, Refuel))


def test_every_flight_is_drawn_for_itself() -> None:
    study = loads(FILLED)
    names = [given.name for given in study.inputs if given.name.startswith("legs.fill.")]
    assert names == [f"legs.fill.{what}#{k}" for what in ("every", "delivered", "arrives") for k in range(1, 7)]
    assert law(study, "legs.fill.arrives#3") == Uniform(0.0, 1.0)
    assert len(leg_of(study).flights) == 6
    assert {units_of_inputs(study)[f"legs.fill.{what}#2"] for what in ("every", "delivered", "arrives")} == {
        "s",
        "kg",
        "",
    }


def test_what_is_fixed_or_sure_draws_nothing() -> None:
    leg = leg_of(from_mapping(depot(flights=5)))
    assert leg.flights[0] == leg.flights[4]
    assert leg.flights[0].arrival is None
    assert from_mapping(depot(flights=5)).inputs == ()


def test_a_chance_that_is_itself_uncertain_is_drawn_once() -> None:
    study = from_mapping(depot(flights=2, arrives={"low": "90 %", "high": "99 %"}, deadline="60 d"))
    assert [given.name for given in study.inputs] == ["legs.fill.arrives", "legs.fill.arrives#1", "legs.fill.arrives#2"]


def test_written_out_it_is_the_same_study() -> None:
    study = loads(FILLED)
    again = from_mapping(study.resolved())
    assert again.digest == study.digest
    assert again.mission == study.mission
    assert study.resolved()["legs"][0]["partly"] == "refused"


def test_more_flights_keep_the_draws_of_the_others() -> None:
    before = {given.name for given in loads(FILLED).inputs}
    after = {given.name for given in loads(FILLED).with_values({"legs.fill.spare": 3}).inputs}
    assert after - before == {f"legs.fill.{what}#{k}" for what in ("every", "delivered", "arrives") for k in (7, 8)}


def test_the_chance_of_enough_flights_is_the_binomial_one() -> None:
    study = from_mapping(depot(flights=5, spare=2, arrives="90 %", deadline="200 d"))
    result = run_study(study, cases=100_000, seed=3)
    chances = {each.name: each.chance.value for each in result.requirements}
    # exact: five of seven arrive; at most five flights: all of the first five; SE 0.0006 and 0.0016, 4 SE, seed fixed
    assert chances["filling of fill"] == pytest.approx(stats.binom.sf(4, 7, 0.9), abs=0.0025)
    assert chances["few"] == pytest.approx(0.9**5, abs=0.0063)


def test_normal_intervals_against_a_deadline() -> None:
    study = from_mapping(depot(flights=5, every={"mean": "8 d", "sd": "1.5 d"}, deadline="42 d"))
    result = run_study(study, cases=100_000, seed=4)
    # exact: the sum of five is normal with 40 d and 1.5 sqrt(5) d; SE 0.0014, 4 SE, seed fixed
    assert result.chance.value == pytest.approx(stats.norm.cdf(2.0 / (1.5 * 5.0**0.5)), abs=0.0057)


def test_going_on_with_less_brings_no_requirement() -> None:
    study = from_mapping(depot(flights=5, partly="allowed"))
    assert [requirement.name for requirement in study.mission.requirements] == ["few"]
    asked = from_mapping(depot(flights=5))
    assert [requirement.name for requirement in asked.mission.requirements] == ["few", "filling of fill"]


def test_dependence_between_flights() -> None:
    pair = "  - {between: [legs.fill.every#1, legs.fill.every#2], rank: 0.5}\n"
    study = loads(changed(FILLED, ("dependence:\n", f"dependence:\n{pair}")))
    ties = {(tie.first, tie.second): tie.rank for tie in study.correlations}
    assert ties["legs.fill.every#1", "legs.fill.every#2"] == 0.5


def test_a_campaign_needs_a_load_and_an_end() -> None:
    text = changed(FILLED, ("    deadline: 60 d\n", ""))
    assert refused(text).code == "no-deadline"
    assert issues_of(changed(text, ("    arrives: 97 %\n", ""))) == ()
    assert refused(changed(FILLED, ("load: 39 t", "load_ratio: 5.9"))).code == "missing-key"
    assert refused(changed(FILLED, ("spare: 1", "spare: 39"))).code == "too-large"
    assert refused(changed(FILLED, ("few: {flights: fill", "few: {flights: departure"))).code == "no-refuel"
    assert refused(changed(FILLED, ("tank: creel.main", "tank: crel.main"))).code == "unknown-tank"


TUG = {
    "leadline": 1,
    "title": "a tug pushes the ferry off and comes home",
    "vehicle": {
        "ferry": {
            "dry_mass": "10 t",
            "engines": {"main": {"isp": "316 s", "mixture_ratio": 1.65}},
            "tanks": {"main": {"propellant": "n2o4-mmh", "load": "8 t"}},
        },
        "tug": {
            "dry_mass": "6 t",
            "engines": {"main": {"isp": "447 s", "mixture_ratio": 5.9}},
            "tanks": {
                "main": {"propellant": "lox-lh2", "load": "40 t", "heat_leak": {"oxidiser": "0 W", "fuel": "200 W"}}
            },
        },
    },
    "legs": [
        {"refuel": "fill the tug", "tank": "tug.main", "flights": 4, "delivered": "12 t", "every": "6 d"},
        {"dock": "meet", "element": "tug"},
        {"burn": "push", "engine": "tug.main", "tank": "tug.main", "cost": "2.2 km/s"},
        {"undock": "let go", "element": "tug"},
        {"burn": "on", "engine": "ferry.main", "tank": "ferry.main", "cost": "900 m/s"},
        {"coast": "out", "lasts": "4 d"},
    ],
    "requirements": {"tug left": {"propellant": "tug.main", "at_least": "1 t", "after": "push"}},
}


def test_a_tug_that_docks_burns_and_leaves() -> None:
    rows = compile_plan(from_mapping(TUG).mission).ledger(np.empty((0, 1))).rows
    mass = {row.name: float(row.stack_mass_kg[0]) for row in rows}
    held = {
        row.name: {tank: sum(float(v[0]) for v in held.values()) for tank, held in row.propellant_kg.items()}
        for row in rows
    }
    # exact: the tug is filled apart, weighs in when docked, and the rocket equation does the rest
    assert mass["fill the tug"] == 18_000.0
    assert mass["meet"] == pytest.approx(64_000.0)
    assert mass["push"] == pytest.approx(64_000.0 * np.exp(-2_200.0 / (447.0 * 9.80665)))
    assert mass["let go"] == pytest.approx(18_000.0)
    assert mass["on"] == pytest.approx(18_000.0 * np.exp(-900.0 / (316.0 * 9.80665)))
    assert held["out"]["tug.main"] < held["let go"]["tug.main"]  # it boils on its own
    assert mass["out"] == mass["on"]


def test_a_tanker_in_its_own_right_is_lifted_moored_and_emptied() -> None:
    tanker = {"dry_mass": "3 t", "tanks": {"main": {"propellant": "n2o4-mmh", "load": {"mean": "9 t", "sd": "0.2 t"}}}}
    document = depot(flights=1)
    document["vehicle"]["tanker"] = tanker
    document["legs"] = [
        {"dock": "moor", "element": "tanker"},
        {"transfer": "pump", "from": "tanker.main", "to": "depot.main", "amount": "8.8 t", "loss": "1 %"},
        {"undock": "cast off", "element": "tanker"},
    ]
    lift = {"lifted": "tanker", "at_most": {"mean": "12.2 t", "sd": "0.3 t"}}
    document["requirements"] = {"tanker lifted": lift}
    study = from_mapping(document)
    result = run_study(study, cases=50_000, seed=1)
    chances = {each.name: each.chance.value for each in result.requirements}
    # exact: difference of two normals, 0.2 t over sqrt(0.2^2 + 0.3^2) t; SE 0.002, 4 SE, seed fixed
    assert chances["tanker lifted"] == pytest.approx(stats.norm.cdf(0.2 / 0.13**0.5), abs=0.009)
    assert chances["supply of tanker.main"] == pytest.approx(stats.norm.cdf(1.0), abs=0.007)  # exact: 9 t less 8.8 t
