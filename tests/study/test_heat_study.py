"""Radiators from the text of a study to their margins."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from leadline.budget import compile_plan
from leadline.physics.radiator import ENVIRONMENTS
from leadline.run.limits import limits_of
from leadline.study import Study, from_mapping
from leadline.study.model_heat_requirements import RadiatorRecord
from leadline.vehicle import HeatRejected


def radiator(after: str | None = None, **inside: Any) -> Study:
    """Read a study whose only requirement is on a radiator."""
    given = {"area": "22 m2", "temperature": "280 K", "environment": "low lunar orbit at noon", **inside}
    asked: dict[str, Any] = {"rejects": given, "at_least": "3.2 kW"}
    return from_mapping(
        {
            "leadline": 1,
            "title": "a radiator",
            "vehicle": {"stone": {"dry_mass": "1 t"}},
            "legs": [{"coast": "drift", "lasts": "1 d"}],
            "requirements": {"cool": asked if after is None else {**asked, "after": after}},
        }
    )


def margin(study: Study) -> float:
    """Give the margin at the median of every dispersed number."""
    medians = np.array([[each.law.median] for each in study.inputs]).reshape(len(study.inputs), 1)
    return float(compile_plan(study.mission).evaluate(medians).margins[0, 0])


@pytest.mark.parametrize(
    ("environment", "white", "net"),
    # computed: balance of e s T^4 with what is absorbed at 280 K, W/m2, view factors checked by quadrature
    [
        ("low lunar orbit at noon", "new", -14.25),
        ("low lunar orbit at noon", "worn", -18.77),
        ("low Earth orbit at noon", "new", 234.70),
        ("low Earth orbit at night", "worn", 238.09),
        ("low Earth orbit at noon in full sun", "new", 98.60),
        ("low Earth orbit at noon facing the Earth", "worn", 45.57),
        ("low lunar orbit at noon facing the Moon", "new", -660.96),
        ("deep space", "new", 306.71),
        ("deep space in full sun", "worn", 24.05),
    ],
)
def test_a_white_radiator(environment: str, white: str, net: float) -> None:
    assert margin(radiator(environment=environment, white=white)) == pytest.approx(22.0 * net - 3_200.0, abs=0.2)


def test_every_environment_has_a_name_without_commas() -> None:
    words = [r.environment for r in map(_bound, ENVIRONMENTS)]
    assert words == list(ENVIRONMENTS)


def _bound(environment: str) -> HeatRejected:
    words = environment.replace(", noon", " at noon").replace(", night", " at night").replace(", full", " in full")
    (requirement,) = radiator(environment=words.replace(", ", " "), white="new").mission.requirements
    assert isinstance(requirement, HeatRejected)
    return requirement


def test_a_stated_face_may_be_dispersed_and_stowed_in_part() -> None:
    study = radiator(
        absorptance={"low": 0.1, "high": 0.3}, emittance=0.85, open="50 %", environment="deep space in full sun"
    )
    assert [each.name for each in study.inputs] == ["requirements.cool.rejects.absorptance"]
    net = 0.85 * 5.670374419e-8 * 280.0**4 - 0.2 * 1361.0  # exact
    assert margin(study) == pytest.approx(11.0 * net - 3_200.0, rel=1e-9)
    assert "takes in" not in compile_plan(study.mission).requirements[0].sentence


def test_written_out_it_is_the_same_study_and_says_what_it_rests_on() -> None:
    study = radiator(white="worn", after="drift")
    again = from_mapping(study.resolved())
    assert (again.digest, again.mission) == (study.digest, study.mission)
    assert compile_plan(study.mission).checks[0].leg == 0
    assert any("absorptance 0.2 and emittance 0.85" in note and "practice" in note for note in study.notes)
    assert any("flat face" in limit for limit in limits_of(study))


def test_every_key_has_an_example_that_can_be_read() -> None:
    examples = {name: info.examples for name, info in RadiatorRecord.model_fields.items()}
    assert all(examples.values())
