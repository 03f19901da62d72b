"""Entries from the text of a study to its margins."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pytest

from leadline.budget import Ledger, compile_plan
from leadline.errors import StudyError
from leadline.physics import lunar_transfer
from leadline.physics.entry_heating import MODEL_ERRORS
from leadline.run.engine import run_study
from leadline.run.limits import limits_of
from leadline.sampling import Lognormal
from leadline.study import Study, from_mapping, json_schema
from leadline.vehicle import Entry
from study.documents import law

KM = 1_000.0
PLAIN: Final[dict[str, Any]] = {"convective_factor": 1, "radiative_factor": 1}
SHIELD: Final[dict[str, Any]] = {
    "peak": {"peak_heating": "home", "at_most": "320 W/cm2"},
    "load": {"heat_load": "home", "at_most": "28 kJ/cm2"},
    "crew": {"deceleration": "home", "at_most": "8 g0"},
}
LUNAR: Final[dict[str, Any]] = {"speed": "11 km/s", "angle": "6.5 deg"}


def capsule(*before: dict[str, Any], asked: dict[str, Any] | None = None, **leg: Any) -> dict[str, Any]:
    """Write a study of a capsule that enters, after other legs."""
    entry = {"entry": "home", "ballistic_coefficient": "350 kg/m2", "lift_to_drag": 0, "nose_radius": "4.69 m", **leg}
    engine = {"isp": "320 s", "mixture_ratio": 1.65}
    tank = {"propellant": "n2o4-mmh", "load": "30 t"}
    return {
        "leadline": 1,
        "title": "home",
        "vehicle": {"tern": {"dry_mass": "9 t", "engines": {"main": engine}, "tanks": {"main": tank}}},
        "legs": [*before, {key: value for key, value in entry.items() if value is not None}],
        "requirements": SHIELD if asked is None else asked,
    }


def burn(name: str, cost: Any) -> dict[str, Any]:
    """Write a burn of the capsule's own engine."""
    return {"burn": name, "engine": "tern.main", "tank": "tern.main", "cost": cost}


def at_medians(study: Study) -> Ledger:
    """Fly the case at the median of every dispersed number."""
    medians = np.array([[each.law.median] for each in study.inputs]).reshape(len(study.inputs), 1)
    return compile_plan(study.mission).ledger(medians)


def test_a_row_of_the_independent_runs_through_a_study() -> None:
    study = from_mapping(capsule(**LUNAR))
    margins = dict(zip([r.name for r in study.mission.requirements], at_medians(study).margins[:, 0], strict=True))
    # cross-checked: an independent run, 573.30 W/cm2, 21 094.9 J/cm2 and 15.28 g; the table is within 1.5 %
    assert margins["peak"] == pytest.approx((320.0 - 573.30) * 1e4, rel=0.035)
    assert margins["load"] == pytest.approx((28_000.0 - 21_094.9) * 1e4, rel=0.04)
    assert margins["crew"] == pytest.approx((8.0 - 15.28) * 9.80665, rel=0.04)
    assert margins["steepness of home"] == pytest.approx((50.0 - 15.28) * 9.80665, rel=0.01)
    assert margins["capture of home"] > 0


def test_model_errors_are_written_out_and_said() -> None:
    study = from_mapping(capsule(**LUNAR))
    convective, radiative = MODEL_ERRORS
    assert law(study, "legs.home.convective_factor") == Lognormal(1.0, convective.spread)
    assert law(study, "legs.home.radiative_factor") == Lognormal(1.0, radiative.spread)
    assert study.resolved()["legs"][0]["radiative_factor"] == {"law": "lognormal", "median": 1.0, "spread": 1.5}
    assert sum("default model error" in note and "trade practice" in note for note in study.notes) == 2
    own = from_mapping(capsule(**LUNAR, convective_factor={"mean": 1.1, "sd": 0.05}, radiative_factor=1))
    assert not any("default model error" in note for note in own.notes)
    assert any("tens of per cent" in limit for limit in limits_of(study))
    assert any("qualified engineering" in limit for limit in limits_of(study))


@pytest.mark.parametrize(
    ("speed", "radius", "said"),
    [
        ("7.8 km/s", "2 m", "no radiation"),
        ("9.5 km/s", "2 m", "below its 10 km/s range"),
        ("11 km/s", "2 m", "inside its speed and nose radius range"),
        ("11 km/s", "4.7 m", "extrapolated"),
    ],
)
def test_which_correlation_applies_is_said(speed: str, radius: str, said: str) -> None:
    study = from_mapping(capsule(speed=speed, angle="6.5 deg", nose_radius=radius))
    assert any(said in note for note in study.notes), study.notes


def test_written_out_it_is_the_same_study() -> None:
    low_orbit = {"speed": "7.8 km/s", "angle": "1.5 deg"}
    study = from_mapping(capsule(**LUNAR, low_orbit=low_orbit, turning={"low": "350 m/s", "high": "420 m/s"}))
    again = from_mapping(study.resolved())
    assert (again.digest, again.mission, again.notes) == (study.digest, study.mission, study.notes)
    assert at_medians(study).rows[1].quantities["times_low_orbit.heat load"][0] > 1.5  # practice: about twice


def test_a_return_follows_the_flight_of_the_legs_before() -> None:
    out = burn("out", {"to_moon": {"from_altitude": "420 km", "on": "2034-03-02"}})
    back = burn("back", {"from_moon": {"low": "100 km"}})
    study = from_mapping(capsule(out, back, returns={"perigee": "40 km"}, **PLAIN))
    there = compile_plan(study.mission)
    entry = next(leg for leg in study.mission.legs if isinstance(leg, Entry))
    row = at_medians(study).rows[-1].quantities
    distance = entry.speed_m_s.arguments[0]  # type: ignore[union-attr]
    assert there.legs == ("out", "back", "home")
    assert getattr(distance, "kind", "") == "moon_distance"
    # computed: 10 975 to 10 987 m/s and 6.39 to 6.40 degrees at any distance of the Moon
    assert 10_974.0 < row["speed_m_s"][0] < 10_988.0
    assert np.degrees(row["angle_below_rad"][0]) == pytest.approx(6.395, abs=0.01)


def test_a_flight_home_with_its_own_distance_is_the_one_followed() -> None:
    out = burn("out", {"to_moon": {"from_altitude": "420 km", "distance": "384400 km"}})
    back = burn("back", {"from_moon": {"low": "100 km", "distance": "356500 km"}})
    study = from_mapping(capsule(out, back, returns={"perigee": "40 km"}, **PLAIN))
    speed, angle = lunar_transfer.entry_state(356_500 * KM, 40 * KM)
    row = at_medians(study).rows[-1].quantities
    assert row["speed_m_s"][0] == pytest.approx(float(speed), rel=1e-12)
    assert row["angle_below_rad"][0] == pytest.approx(-float(angle), rel=1e-12)
    alone = from_mapping(capsule(returns={"perigee": "40 km", "distance": "356500 km"}, **PLAIN))
    assert at_medians(alone).rows[-1].quantities["speed_m_s"][0] == row["speed_m_s"][0]


def test_the_ballistic_coefficient_may_follow_from_the_mass() -> None:
    document = capsule(**LUNAR, ballistic_coefficient=None, area="20 m2", drag_coefficient=1.3)
    document["vehicle"]["tern"].pop("tanks")
    document["vehicle"]["tern"].pop("engines")
    study = from_mapping(document)
    names = [requirement.name for requirement in study.mission.requirements]
    assert names[-3:] == ["capture of home", "steepness of home", "ballistic coefficient of home"]
    assert at_medians(study).rows[-1].quantities["ballistic_coefficient_kg_m2"][0] == pytest.approx(9_000 / 26.0)


def test_too_shallow_entries_fail_by_name_and_none_is_invalid() -> None:
    study = from_mapping(capsule(speed="11 km/s", angle={"mean": "5.3 deg", "sd": "0.2 deg"}, lift_to_drag=0.3))
    result = run_study(study, cases=20_000, seed=2)
    chances = {each.name: each.chance.value for each in result.requirements}
    assert result.cases.invalid == 0
    assert 0.02 < chances["capture of home"] < 0.98
    assert result.sources


def test_the_model_error_spreads_the_margin_as_its_law_says() -> None:
    study = from_mapping(
        capsule(**LUNAR, radiative_factor=1, asked={"peak": {**SHIELD["peak"], "count": "convective"}})
    )
    peak = at_medians(study).rows[-1].quantities["peak_convective_w_m2"][0]
    bounded = study.with_values({"requirements.peak.at_most": f"{1.2 * float(peak)!r} W/m2"})
    chance = run_study(bounded, cases=50_000, seed=7).requirements[0].chance.value
    # exact: a lognormal factor of spread 1.2 is below 1.2 as often as a normal law is below one sd; SE 0.0016, 4 SE
    assert chance == pytest.approx(0.841345, abs=0.0065)


@pytest.mark.parametrize(
    ("leg", "code"),
    [
        ({"speed": "11 km/s", "returns": {"perigee": "40 km", "distance": "384400 km"}}, "twice"),
        ({"returns": {"perigee": "40 km"}}, "no-flight"),
        ({**LUNAR, "element": "saddle"}, "unknown-element"),
        ({**LUNAR, "drag_coefficient": 1.3}, "twice"),
    ],
)
def test_refused(leg: dict[str, Any], code: str) -> None:
    with pytest.raises(StudyError) as caught:
        from_mapping(capsule(**leg))
    assert [issue.code for issue in caught.value.issues] == [code]


def test_the_schema_offers_entries_campaigns_and_radiators() -> None:
    text = str(json_schema())
    for word in ("entry", "refuel", "peak_heating", "heat_load", "deceleration", "rejects", "flights"):
        assert f"'{word}'" in text
