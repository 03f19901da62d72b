"""Two kinds of not knowing: what differs from flight to flight, and what is fixed and only not known."""

from __future__ import annotations

import json

import pytest
import yaml

from leadline.sampling import Input, Normal
from leadline.study import Study, from_mapping, json_schema, loads
from leadline.study.marked import issues_of_knowledge, knowledge_of, marked_numbers
from leadline.study.reading import read
from study.documents import FERRY, changed, refused
from study.json_schema import accepts

KNOWN = changed(
    FERRY,
    ("dry_mass: {mean: 18.4 t, sd: 0.5 t}", "dry_mass: {mean: 18.4 t, sd: 0.5 t, kind: knowledge}"),
    ("{low: 5.4 t, likely: 5.9 t, high: 7.1 t}", "{low: 5.4 t, likely: 5.9 t, high: 7.1 t, kind: knowledge}"),
    ("{median: 240 W, spread: 1.35}", "{practice: insulation built, nominal: 240 W, kind: knowledge}"),
    ("{mean: 3.13 km/s, sd: 12 m/s}", "{mean: 3.13 km/s, sd: 12 m/s, kind: flight}"),
)
NAMES = {"vehicle.plover.dry_mass", "vehicle.creel.dry_mass", "vehicle.creel.tanks.main.heat_leak.fuel"}


@pytest.fixture(scope="module")
def known() -> Study:
    return loads(KNOWN)


def test_a_study_names_what_is_knowledge(known: Study) -> None:
    assert known.knowledge == NAMES
    assert loads(FERRY).knowledge == frozenset()


def test_the_draws_do_not_depend_on_the_kind(known: Study) -> None:
    assert known.inputs == loads(FERRY).inputs


def test_the_resolved_study_writes_knowledge_only(known: Study) -> None:
    resolved = known.resolved()
    assert resolved["vehicle"]["plover"]["dry_mass"]["kind"] == "knowledge"
    assert "kind" not in resolved["legs"][1]["cost"]
    schema = json_schema()
    assert accepts(schema, read(KNOWN).tree, schema)
    assert accepts(schema, resolved, schema)
    for again in (from_mapping(resolved), loads(json.dumps(resolved)), loads(yaml.safe_dump(resolved))):
        assert (again.resolved(), again.digest, again.knowledge) == (resolved, known.digest, known.knowledge)


def test_the_kind_is_part_of_the_digest_and_flight_is_the_one_left_out() -> None:
    plain = loads(FERRY).digest
    flight = changed(FERRY, ("{mean: 447 s, sd: 1.6 s}", "{mean: 447 s, sd: 1.6 s, kind: flight}"))
    knowledge = changed(FERRY, ("{mean: 447 s, sd: 1.6 s}", "{mean: 447 s, sd: 1.6 s, kind: knowledge}"))
    assert loads(flight).digest == plain
    assert loads(knowledge).digest != plain


@pytest.mark.parametrize(
    "law",
    [
        "{law: lognormal, mean: 447 s, sd: 1.6 s}",
        "{low: 440 s, high: 450 s}",
        "{values: [446 s, 447 s], chances: [50 %, 50 %]}",
        "{mean: 447 s, sd: 2 s, at_least: 440 s}",
        "{law: data, values: [445, 446, 448], unit: s}",
    ],
)
def test_any_law_may_be_knowledge(law: str) -> None:
    text = changed(FERRY, ("{mean: 447 s, sd: 1.6 s}", law.replace("}", ", kind: knowledge}")))
    study = loads(text)
    assert study.knowledge == {"vehicle.plover.engines.main.isp"}
    assert loads(json.dumps(study.resolved())).digest == study.digest


def test_a_correlation_ties_numbers_of_one_kind_only(known: Study) -> None:
    assert len(known.correlations) == 1  # both dry masses are knowledge
    issue = refused(changed(KNOWN, ("high: 7.1 t, kind: knowledge}", "high: 7.1 t}")))
    assert (issue.path, issue.code, issue.line) == (("dependence", 0), "knowledge", 50)
    assert "vehicle.plover.dry_mass is knowledge and vehicle.creel.dry_mass differs" in issue.message
    assert "one kind" in issue.remedy


def test_the_entry_at_fault_is_named_among_others() -> None:
    pairs = "rank: 0.4}\n  - {between: [plover.engines.main.isp, legs.departure.cost], rank: 0.1}"
    text = changed(
        KNOWN, ("rank: 0.4}", f"{pairs}\n  - {{between: [legs.outbound.lasts, plover.dry_mass], rank: 0.1}}")
    )
    assert refused(text).path == ("dependence", 2)


def test_a_number_drawn_anew_many_times_cannot_be_knowledge() -> None:
    tree = {"legs": [{"refuel": "fill", "delivered": {"law": "normal", "mean": 1.0, "sd": 0.1, "kind": "knowledge"}}]}
    marked = marked_numbers(tree)
    inputs = [Input(f"legs.fill.delivered#{k}", Normal(1.0, 0.1)) for k in (1, 2)]
    (issue,) = issues_of_knowledge(marked, inputs, [])
    assert (issue.path, issue.code) == (("legs", 0, "delivered", "kind"), "knowledge")
    assert "drawn anew" in issue.message
    assert knowledge_of(marked, inputs) == frozenset()
    # A chance may be knowledge, though what comes of it is drawn anew each time.
    inputs.append(Input("legs.fill.delivered", Normal(1.0, 0.1)))
    assert issues_of_knowledge(marked, inputs, []) == []
    assert knowledge_of(marked, inputs) == {"legs.fill.delivered"}


def test_parts_named_like_the_keys_of_a_law_are_no_laws() -> None:
    text = KNOWN.replace("plover", "kind").replace("creel", "law")
    assert loads(text).knowledge == {name.replace("plover", "kind").replace("creel", "law") for name in NAMES}


def test_every_number_has_the_name_of_its_input() -> None:
    # Every law of the ferry marked: each input must be found again by its place.
    ends = (
        "sd: 0.5 t",
        "sd: 1.6 s",
        "sd: 0.04",
        "high: 7.1 t",
        "high: 2 %",
        "spread: 1.35",
        "sd: 12 m/s",
        "high: 110 h",
    )
    marks = [(f"{end}}}", f"{end}, kind: knowledge}}") for end in ends]
    study = loads(changed(FERRY, *marks))
    assert study.knowledge == {given.name for given in study.inputs}
    cost = "{to_moon: {from_altitude: 420 km, distance: {low: 360000 km, high: 400000 km, kind: knowledge}}}"
    moon = loads(changed(FERRY, ("{mean: 3.13 km/s, sd: 12 m/s}", cost)))
    assert moon.knowledge == {"legs.departure.cost.to_moon.distance"}
