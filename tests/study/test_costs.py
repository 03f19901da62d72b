"""Leg costs that follow from geometry: read, checked, bound, written back."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from leadline.budget import compile_plan
from leadline.constants import EARTH_GM_M3_S2, EARTH_RADIUS_M, MOON_GM_M3_S2, MOON_RADIUS_M
from leadline.errors import Issue, StudyError
from leadline.physics import lunar_transfer, orbits
from leadline.study import Study, from_mapping, json_schema

NO_ERROR = "0 m/s"
KM = 1_000.0


def mission(*costs: Any) -> dict[str, Any]:
    legs = [{"burn": f"burn {i}", "engine": "a.main", "tank": "a.main", "cost": cost} for i, cost in enumerate(costs)]
    engine = {"isp": "450 s", "mixture_ratio": 6}
    tank = {"propellant": "lox-lh2", "load": "60 t"}
    return {
        "leadline": 1,
        "title": "costs",
        "vehicle": {"a": {"dry_mass": "10 t", "engines": {"main": engine}, "tanks": {"main": tank}}},
        "legs": legs,
        "requirements": {"reserve": {"propellant": "a.main", "at_least": "0 t"}},
    }


def costs_of(study: Study) -> list[float]:
    """Give what each burn of the case at the medians costs, m/s."""
    medians = np.array([[each.law.median] for each in study.inputs]).reshape(len(study.inputs), 1)
    rows = compile_plan(study.mission).ledger(medians).rows
    return [float(row.quantities["delta_v_m_s"][0]) for row in rows[1:]]


def test_to_the_moon_and_into_orbit_share_one_flight() -> None:
    study = from_mapping(
        mission(
            {"to_moon": {"from_altitude": "200 km", "distance": "384400 km", "flight_time": "84 h"}},
            {"lunar_capture": {"low": "100 km"}},
        )
    )
    # computed: circular restricted three-body flight of 84.0 h costs 5 m/s over 3131.3 and 840.5 m/s at the Moon
    assert costs_of(study) == pytest.approx([3136.3, 840.5], abs=0.5)
    names = [each.name for each in study.inputs]
    assert names == ["legs.burn 0.cost.to_moon.model_error", "legs.burn 1.cost.lunar_capture.model_error"]


def test_a_low_orbit_is_a_circular_capture() -> None:
    out = {"to_moon": {"from_altitude": "200 km", "distance": "384400 km", "flight_time": "84 h"}}
    pair = [
        costs_of(from_mapping(mission(out, {kind: {key: "100 km"}})))
        for kind, key in (("lunar_orbit", "altitude"), ("lunar_capture", "low"))
    ]
    assert pair[0] == pair[1]  # exact
    assert refused(out, {"lunar_orbit": {"altitude": "-1 km"}})[0].path[-1] == "altitude"


def test_a_flight_from_the_moon_may_have_its_own_distance() -> None:
    study = from_mapping(
        mission(
            {"to_moon": {"from_altitude": "400 km", "distance": "384400 km", "model_error": NO_ERROR}},
            {"from_moon": {"low": "100 km", "high": "10000 km", "distance": "356500 km", "model_error": NO_ERROR}},
        )
    )
    excess = lunar_transfer.arrival_excess(None, 356_500 * KM)
    back = float(lunar_transfer.lunar_burn_cost(excess, 100 * KM, 10_000 * KM))
    assert study.inputs == ()
    assert costs_of(study) == pytest.approx([float(lunar_transfer.departure_cost(400 * KM, 384_400 * KM)), back])


def test_orbit_change_plane_change_escape_and_capture() -> None:
    ellipse = {"low": "100 km", "high": "10000 km"}
    study = from_mapping(
        mission(
            {
                "orbit_change": {
                    "about": "moon",
                    "from_low": "100 km",
                    "from_high": "10000 km",
                    "to_low": "100 km",
                    "to_high": "100 km",
                }
            },
            {"plane_change": {"about": "moon", **ellipse, "angle": "60 deg"}},
            {"escape": {"about": "earth", "low": "200 km", "high": "200 km", "excess": "3 km/s"}},
            {"capture": {"about": "moon", **ellipse, "excess": "0.8377 km/s"}},
        )
    )
    low, high = MOON_RADIUS_M + 100 * KM, MOON_RADIUS_M + 10_000 * KM
    at_high = float(orbits.speed(MOON_GM_M3_S2, high, 0.5 * (low + high)))
    down = float(orbits.apsides_change_cost(MOON_GM_M3_S2, (low, high), (low, low)))
    parking = EARTH_RADIUS_M + 200 * KM
    escape = float(orbits.hyperbolic_cost(EARTH_GM_M3_S2, parking, parking, 3_000.0))
    # computed: two-body table, excess of 837.7 m/s into 100 by 10 000 km: 309.2 m/s; 60 degrees cost the speed, exact
    assert costs_of(study) == pytest.approx([down, at_high, escape, 309.2], abs=0.1)


@pytest.mark.parametrize("when", [{"on": "2034-11-25"}, {"between": ["2034-11-25", "2034-11-26"]}])
def test_dates_give_the_moons_distance(when: dict[str, Any], need: Any) -> None:
    need("erfa")
    study = from_mapping(mission({"to_moon": {"from_altitude": "200 km", "model_error": NO_ERROR, **when}}))
    # published: perigee of 356 445 km on 25 Nov 2034, hemelkalender.be glossary
    expected = float(lunar_transfer.departure_cost(200 * KM, 356_445 * KM))
    assert costs_of(study) == pytest.approx([expected], abs=0.5)  # the perigee falls some hours off midnight
    assert [each.name for each in study.inputs] == (["legs.burn 0.cost.to_moon.between"] if "between" in when else [])


def test_the_resolved_study_gives_the_same_digest_and_shows_the_model_error() -> None:
    study = from_mapping(mission({"to_moon": {"from_altitude": "420 km", "between": ["2034-03-02", "2034-03-29"]}}))
    resolved = study.resolved()
    assert resolved["legs"][0]["cost"]["to_moon"]["model_error"] == {
        "law": "normal",
        "mean": "0.0 m/s",
        "sd": "5.0 m/s",
    }
    assert from_mapping(resolved).digest == study.digest
    faster = study.with_values({"legs.burn 0.cost.to_moon.flight_time": "70 h"})
    assert faster.digest != study.digest


def refused(*costs: Any) -> tuple[Issue, ...]:
    with pytest.raises(StudyError) as caught:
        from_mapping(mission(*costs))
    return caught.value.issues


@pytest.mark.parametrize(
    ("cost", "place", "said"),
    [
        ({"to_moon": {"from_altitude": "420 km"}}, "legs.0.cost.to_moon", "Nothing says how far the Moon is"),
        ({"to_moon": {"distance": "384400 km"}}, "legs.0.cost.to_moon", '"from_altitude" is missing'),
        ({"to_moon": {"from_altitud": "420 km"}}, "legs.0.cost.to_moon.from_altitud", "is no key here"),
        ({"to_moon": {"from_altitude": "20 km", "distance": "384400 km"}}, "legs.0.cost.to_moon.from_altitude", "150"),
        ({"to_moon": {"from_altitude": "420 km", "on": "2234-03-02"}}, "legs.0.cost.to_moon.on", "1950 to 2100"),
        ({"to_moon": {"from_altitude": "420 km", "on": "spring"}}, "legs.0.cost.to_moon.on", "is not a date"),
        (
            {"to_moon": {"from_altitude": "420 km", "distance": "384400 km", "flight_time": "40 h"}},
            "legs.0.cost.to_moon.flight_time",
            "is not possible here",
        ),
        (
            {"to_moon": {"from_altitude": "420 km", "between": ["2034-03-29", "2034-03-02"]}},
            "legs.0.cost.to_moon",
            "has no length",
        ),
        (
            {"to_moon": {"from_altitude": "420 km", "on": "2034-03-02", "distance": "384400 km"}},
            "legs.0.cost.to_moon",
            "said more than once",
        ),
        ({"lunar_capture": {"low": "100 km"}}, "legs.0.cost.lunar_capture", "No earlier leg flies to the Moon"),
        (
            {"lunar_capture": {"low": "-5 km", "distance": "384400 km"}},
            "legs.0.cost.lunar_capture.low",
            "must be at least 10 km",
        ),
        (
            {"lunar_capture": {"low": "900 km", "high": "100 km", "distance": "384400 km"}},
            "legs.0.cost.lunar_capture",
            "under its low point",
        ),
        ({"escape": {"about": "mars"}}, "legs.0.cost.escape.about", ""),
        ({"to_mars": {"from_altitude": "420 km"}}, "legs.0.cost", ""),
    ],
)
def test_what_cannot_be_is_refused_at_its_place(cost: Any, place: str, said: str) -> None:
    issues = refused(cost)
    assert all(issue.remedy for issue in issues)
    found = [issue for issue in issues if ".".join(str(step) for step in issue.path) == place]
    assert found, issues
    assert any(said in issue.message for issue in found), found


def test_a_flight_time_at_the_wrong_end_is_refused() -> None:
    out = {"to_moon": {"from_altitude": "420 km", "distance": "384400 km"}}
    issues = refused(out, {"lunar_capture": {"low": "100 km", "flight_time": "90 h"}})
    assert "belongs to the leg that flies to the Moon" in issues[0].message


def test_the_schema_offers_every_kind() -> None:
    text = str(json_schema())
    for kind in (
        "to_moon",
        "lunar_capture",
        "lunar_orbit",
        "from_moon",
        "orbit_change",
        "plane_change",
        "escape",
        "capture",
    ):
        assert kind in text
