"""The reference says everything the models read, and nothing they refuse."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leadline.study import from_mapping, json_schema, loads
from leadline.study.law_shapes import SHAPES
from leadline.study.model_costs import COST_KINDS
from leadline.study.model_heat_requirements import AGES, RadiatorRecord
from leadline.study.model_legs import LEG_KINDS
from leadline.study.model_propellant import BUILT_IN
from leadline.study.model_requirements import REQUIREMENT_KINDS
from leadline.study.practice import MATURITIES, PRACTICES
from leadline.study.reading import read_value
from leadline.units import DIMENSIONS
from leadline_service.pages.reference import Key, Kind, parts
from leadline_service.pages.reference_tables import LAW_EXAMPLES, tables
from service.pages.links import Read, read_page
from service.routes.served import FERRY, Served


@pytest.fixture
def page(served: Served) -> Read:
    return read_page(served.get("/reference", headers={"accept": "text/html"}).text)


def kinds() -> dict[str, Kind]:
    return {kind.anchor: kind for part in parts() for kind in part.kinds}


@pytest.mark.parametrize(
    ("of", "models"), [("leg", LEG_KINDS), ("requirement", REQUIREMENT_KINDS), ("cost", COST_KINDS)]
)
def test_every_kind_appears_with_every_key(page: Read, of: str, models: dict[str, type]) -> None:
    for name, model in models.items():
        kind = kinds()[f"{of}-{name.replace('_', '-')}"]
        assert kind.anchor in page.ids
        fields = {field.alias or name: field for name, field in model.model_fields.items()}  # type: ignore[attr-defined]
        assert {key.name for key in kind.keys} == set(fields)
        for key in kind.keys:
            field = fields[key.name]
            assert field.description in key.says
            assert key.says.split()[0] in page.text
            assert (key.default == "must be given") == field.is_required()
            assert key.wanted


def test_every_record_that_is_named_stands_on_the_page(page: Read) -> None:
    records = [name for name, part in json_schema()["$defs"].items() if "properties" in part]
    numbers = [name for name in records if name.startswith(("quantity_of", "number_of"))]
    assert len(kinds()) - 1 - len(COST_KINDS) == len(records) - len(numbers)  # one more: the study at the top
    assert {kind.anchor for kind in kinds().values()} <= set(page.ids)


def test_every_unit_law_propellant_and_environment_appears(page: Read) -> None:
    words = page.text
    for dimension in DIMENSIONS:
        assert f"unit-{dimension.name.replace(' ', '-')}" in page.ids
        for unit in dimension.units.values():
            assert unit.symbol in words
            assert unit.source in words
    for shape in SHAPES:
        assert shape.words in words
        assert all(key in words for key in shape.keys)
    for practice in PRACTICES.values():
        assert practice.name in words
        assert practice.says in words
    listed = {table.anchor: [row[0].text for row in table.table.rows] for table in tables()}
    assert listed["practice"] == list(PRACTICES)
    assert listed["propellants"] == list(BUILT_IN)
    assert listed["maturities"] == list(MATURITIES)
    assert listed["coatings"] == list(AGES)
    environments = RadiatorRecord.model_json_schema()["properties"]["environment"]["enum"]
    assert listed["environments"] == environments
    for table in tables():
        if "source" in table.table.headers:
            place = table.table.headers.index("source")
            # Deep space sends nothing back, so its row of zeros has nobody to name.
            assert all(row[place].text or row[0].text == "deep space" for row in table.table.rows)


@pytest.mark.parametrize("example", LAW_EXAMPLES.values())
def test_every_law_is_read_as_it_is_shown(example: str) -> None:
    study = loads(FERRY)
    element = study.document.vehicle
    name = next(iter(element))
    tree = {**study.tree, "options": {}, "dependence": []}
    law = read_value(example)
    tree["vehicle"] = {**study.tree["vehicle"], name: {**study.tree["vehicle"][name], "dry_mass": law}}  # type: ignore[index,dict-item,call-overload]
    made = from_mapping(tree)
    assert f"vehicle.{name}.dry_mass" in {given.name for given in made.inputs}


@given(st.sampled_from([key for kind in kinds().values() for key in kind.keys]))
def test_every_example_is_readable(key: Key) -> None:
    assert key.example
    read_value(key.example)


def test_defaults_are_written_as_a_study_would() -> None:
    keys = {key.name: key for key in kinds()["leg-entry"].keys}
    assert keys["convective_factor"].default == "{median: 1.0, spread: 1.2}"
    assert keys["turning"].default == "0 m/s"
    assert kinds()["cost-to-moon"].keys[-1].default == "{mean: 0 m/s, sd: 5 m/s}"
