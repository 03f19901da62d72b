"""The JSON Schema: it takes what loads, refuses what cannot, and helps an editor."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import yaml

from leadline.study import json_schema, loads
from leadline.study.law_shapes import SHAPES
from leadline.study.model_legs import LEG_KINDS
from leadline.study.model_requirements import REQUIREMENT_KINDS
from leadline.study.reading import read
from leadline.units import DIMENSIONS
from study.documents import FERRY, LEAST, ORBITER, changed
from study.json_schema import accepts

STUDIES = sorted((Path(__file__).parents[2] / "studies").glob("*.yaml"))


@pytest.fixture(scope="module")
def schema() -> dict[str, Any]:
    return json_schema()


def parts(value: Any) -> list[dict[str, Any]]:
    if isinstance(value, list):
        return [part for inner in value for part in parts(inner)]
    return [value, *(part for inner in value.values() for part in parts(inner))] if isinstance(value, dict) else []


def test_it_is_plain_json_of_the_version_it_names(schema: dict[str, Any]) -> None:
    assert json.loads(json.dumps(schema, allow_nan=False)) == schema
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema == json_schema()


@pytest.mark.parametrize("text", [FERRY, ORBITER, LEAST], ids=["ferry", "orbiter", "least"])
def test_it_takes_good_studies_as_written_and_resolved(schema: dict[str, Any], text: str) -> None:
    assert accepts(schema, read(text).tree, schema)
    assert accepts(schema, loads(text).resolved(), schema)


@pytest.mark.parametrize("file", STUDIES, ids=lambda file: file.stem)
def test_it_takes_the_studies_that_are_shipped(schema: dict[str, Any], file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    assert accepts(schema, read(text).tree, schema)
    study = loads(text, folder=file.parent)
    for option in study.options:
        assert accepts(schema, study.with_option(option).resolved(), schema)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("title: Plover", "titel: Plover"),
        ("leadline: 1", "leadline: 2"),
        ("thrust: 66 kN", "thrust: 66"),
        ("thrust: 66 kN", "thrust: 66 kg"),
        ("load: 9 t", "load: 9 kt"),
        ("sd: 0.5 t}", "sdd: 0.5 t}"),
        ("sd: 0.5 t}", "sd: 0.5 s}"),
        ("ullage: 4 %", "ullage: 4 t"),
        ("propellant: lox-lh2", "propellant: 5"),
        ("- burn: departure", "- brun: departure"),
        ("    cost: 450 m/s\n", ""),
        ("element: creel", "element: creel\n    tank: creel.main"),
        ("{fill: creel.main}", "{fill: creel.main, lifted: creel}"),
        ("at_least: 0.9 t", "count: gas, at_least: 0.9 t"),
        ("chance: 95 %", "chance: {low: 1 %, high: 2 %}"),
        ("[plover.dry_mass, creel.dry_mass]", "[plover.dry_mass]"),
        ("lighter: {plover.dry_mass: 17 t, dependence: null}", "lighter: 5"),
    ],
)
def test_it_refuses_what_has_the_wrong_shape(schema: dict[str, Any], old: str, new: str) -> None:
    assert not accepts(schema, yaml.safe_load(changed(FERRY, (old, new))), schema)


def test_an_editor_can_complete_every_key(schema: dict[str, Any]) -> None:
    kinds = {key for part in parts(schema) for key in part.get("properties", {})}
    assert kinds >= set(LEG_KINDS) | set(REQUIREMENT_KINDS) | {key for shape in SHAPES for key in shape.keys}
    described = [part for key, part in schema["$defs"].items() if key.endswith("Record")]
    assert all(inner.get("description") for part in described for inner in part["properties"].values())
    assert all(part["description"] for part in described)


def test_units_are_named_where_a_number_is_wanted(schema: dict[str, Any]) -> None:
    used = [d for d in DIMENSIONS if f"quantity_of_{d.name}".replace(" ", "_") in schema["$defs"]]
    assert len(used) >= 10
    for dimension in used:
        words = schema["$defs"][f"number_of_{dimension.name}".replace(" ", "_")]["description"]
        assert all(symbol in words for symbol in dimension.units)


def test_examples_fit_their_own_schema(schema: dict[str, Any]) -> None:
    examples = [(part, example) for part in parts(schema) for example in part.get("examples", [])]
    assert len(examples) > 40
    for part, example in examples:
        assert accepts(part, example, schema), (part, example)


def test_every_definition_is_used_and_every_reference_is_defined(schema: dict[str, Any]) -> None:
    used = {part["$ref"].removeprefix("#/$defs/") for part in parts(schema) if "$ref" in part}
    assert used == set(schema["$defs"])
