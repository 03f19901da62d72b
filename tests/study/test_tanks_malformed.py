"""A study with everything about tanks, spoiled in every place: refused with a remedy, or sound all the way."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from leadline.budget import compile_plan
from leadline.errors import StudyError
from leadline.study import Study, from_mapping
from study.test_tanks import COASTS, EVERYTHING, PEROXIDE, PLACES

Path = tuple[str | int, ...]
SPOILED: list[Any] = [
    None, "text", 5, -1, [], {}, True, "3 kg", "1 bar", "2 W", "1 m", "hydrazine", "n2o4-mmh", "lox-rp1",
    {"mean": "1 bar", "sd": "9 bar"}, {"mean": "2 W", "sd": "0.1 W"}, {"mean": "23 K", "sd": "0.1 K"},
    {"oxidiser": "1 bar"}, {"fuel": 5}, {"deep space": "1 W"},
]  # fmt: skip


def whole() -> dict[str, Any]:
    tanks = {
        "main": EVERYTHING,
        "own": {"propellant": "peroxide-kerosene", "load": "1 t", "volume": {"oxidiser": "3 m3", "fuel": "3 m3"}},
        "one": {"propellant": "hydrazine", "load": "1 kg", "shape": {"radius": "1 m"}, "density": "990 kg/m3"},
        "cold": {
            "propellant": "lox-lh2",
            "load": "1 t",
            "temperature": {"oxidiser": "91 K", "fuel": "20 K"},
            "heat_leak": {"fuel": dict.fromkeys(PLACES, "2 W")},
        },
    }
    return copy.deepcopy(
        {
            "leadline": 1,
            "title": "every tank",
            "propellants": PEROXIDE,
            "vehicle": {"a": {"dry_mass": "10 t", "tanks": tanks}},
            "legs": list(COASTS),
            "requirements": {"left": {"propellant": "a.main", "at_least": "0 kg", "count": "total"}},
        }
    )


def places(value: Any, path: Path = ()) -> Iterator[Path]:
    if path and path[0] in {"vehicle", "propellants", "legs"}:
        yield path
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for step, inner in inside:
        yield from places(inner, (*path, step))


def spoil(path: Path, value: Any) -> dict[str, Any]:
    made = whole()
    here: Any = made
    for step in path[:-1]:
        here = here[step]
    here[path[-1]] = value
    return made


def sound(made: Study) -> None:
    """Check that a study that is taken reads back the same and flies."""
    assert from_mapping(made.resolved()).digest == made.digest
    medians = np.array([[each.law.median] for each in made.inputs]).reshape(len(made.inputs), 1)
    assert np.isfinite(compile_plan(made.mission).ledger(medians).margins).all()


@pytest.mark.parametrize("value", SPOILED, ids=str)
def test_every_place_spoiled(value: Any) -> None:
    taken = 0
    refused: list[StudyError] = []
    for path in places(whole()):
        try:
            sound(from_mapping(spoil(path, value)))
            taken += 1
        except StudyError as error:
            refused.append(error)
    assert len(refused) > taken
    assert all(issue.message and issue.remedy and issue.code for error in refused for issue in error.issues)


def test_a_propellant_that_cannot_be_read_is_refused_once() -> None:
    with pytest.raises(StudyError) as caught:
        from_mapping(spoil(("propellants", "peroxide-kerosene", "oxidiser", "density"), "4 W"))
    assert [issue.path for issue in caught.value.issues] == [
        ("propellants", "peroxide-kerosene", "oxidiser", "density")
    ]


def test_a_name_that_is_nearly_one_of_its_own_is_suggested() -> None:
    with pytest.raises(StudyError) as caught:
        from_mapping(spoil(("vehicle", "a", "tanks", "own", "propellant"), "peroxide-kerosine"))
    assert 'mean "peroxide-kerosene"' in caught.value.issues[0].remedy
