"""The part of the interface that the pages ask: edits, changes tried, figures."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from leadline.run.engine import run_study
from leadline.run.try_changes import Nominal, changed
from leadline.run.trying import Trying
from leadline.study import loads
from leadline_service.warm import WarmStudies
from service.routes.served import FERRY, Served
from service.stepped_clock import SteppedClock

LOOK = (Path(__file__).parents[3] / "studies" / "tern-first-look.yaml").read_text()


def test_a_text_is_edited_read_and_looked_over(served: Served) -> None:
    edits = [
        {"do": "set", "at": "tern.dry_mass", "value": {"mean": "18 t", "sd": "0.5 t"}},
        {"do": "add", "at": ["legs"], "value": {"coast": "rest", "lasts": "1 h"}},
        {"do": "move", "at": ["legs", 9], "to": 0},
        {"do": "remove", "at": ["options", "storables in the hold"]},
        {"do": "rename", "at": ["requirements", "time away"], "to": "home in time"},
    ]
    got = served.post("/v1/edit", "read", json={"text": LOOK, "edits": edits})
    assert got.status_code == 200, got.text
    made = got.json()
    assert made["issues"] == []
    assert made["options"] == ["hydrogen in the hold"]
    assert made["tree"]["legs"][0] == {"coast": "rest", "lasts": "1 h"}
    assert "# crew, suits and samples included" in made["text"]
    line, column = made["places"]["#/vehicle/tern/dry_mass"]
    assert made["text"].splitlines()[line - 1][column - 1 :].startswith("dry_mass: {mean: 18 t, sd: 0.5 t}")  # its key


def test_what_is_wrong_is_told_with_its_place(served: Served) -> None:
    made = served.post("/v1/edit", json={"text": LOOK.replace("18.4 t", "18.4 kt")}).json()
    assert [(issue["pointer"], issue["line"]) for issue in made["issues"]] == [("#/vehicle/tern/dry_mass/likely", 12)]
    broken = served.post("/v1/edit", json={"text": "a: [1\nb: 2"}).json()
    assert broken["tree"] is None
    assert broken["issues"][0]["code"] == "syntax"
    refused = served.post("/v1/edit", json={"text": LOOK, "edits": [{"do": "remove", "at": "tern.wings"}]})
    assert refused.status_code == 422
    assert refused.json()["errors"][0]["pointer"] == "#/edits/0"
    unknown = served.post("/v1/edit", json={"text": LOOK, "edits": [{"do": "fly", "at": "x"}]})
    assert unknown.status_code == 422


def test_a_change_is_tried_on_a_stored_study(served: Served) -> None:
    study = served.stored(LOOK)
    changes = [{"kind": "nominal", "place": "tern.dry_mass", "to": "18 t"}]
    got = served.post("/v1/try", json={"study": study, "changes": changes, "cases": 20_000, "seed": 4})
    assert got.status_code == 200, got.text
    assert got.headers["server-timing"].startswith("try;dur=")
    # exact: a run of the changed study from the same seed
    run = run_study(changed(loads(LOOK), [Nominal("tern.dry_mass", "18 t")]).study, cases=20_000, seed=4)
    assert got.json()["chance"] == run.chance.model_dump(mode="json")
    option = [
        {"kind": "option", "name": "hydrogen in the hold"},
        {"kind": "spread", "place": "tern.dry_mass", "times": 0.5},
    ]
    again = served.post("/v1/try", json={"study": study, "changes": option, "cases": 20_000, "seed": 4}).json()
    assert again["base"] == served.post("/v1/try", json={"study": study, "cases": 20_000, "seed": 4}).json()["chance"]
    assert again["study"]["option"] == "hydrogen in the hold"


@pytest.mark.parametrize(
    ("asked", "pointer"),
    [
        ({}, "#"),
        ({"text": FERRY, "study": "0" * 64}, "#"),
        ({"text": "a: 1"}, "#/text/a"),
        ({"text": FERRY, "option": "nothing"}, "#/option"),
        ({"text": FERRY, "changes": [{"kind": "nominal", "place": "ferry.wings", "to": "1 m"}]}, "#/changes/0"),
        ({"text": FERRY, "changes": [{"kind": "spread", "place": "x", "times": -1}]}, "#/changes/0/times"),
        ({"text": FERRY, "cases": 200_001}, "#/cases"),
    ],
)
def test_what_cannot_be_tried_points_to_its_cause(served: Served, asked: dict[str, object], pointer: str) -> None:
    got = served.post("/v1/try", json=asked)
    assert got.status_code == 422
    assert pointer in {error["pointer"] for error in got.json()["errors"]}


def test_trying_takes_the_role_to_run(served: Served) -> None:
    assert served.post("/v1/try", "read", json={"text": FERRY}).status_code == 403
    assert served.client.post("/v1/try", json={"text": FERRY}).status_code == 401
    assert served.client.post("/v1/edit", json={"text": FERRY}).status_code == 401
    assert served.post("/v1/try", json={"study": "0" * 64}).status_code in {404, 422}


def test_figures_are_the_reports_own(served: Served) -> None:
    run = served.started(answers=[{"kind": "drivers", "pairs": 64, "cases": 1_000}])
    assert served.get(f"/v1/runs/{run}/figures").status_code == 409
    served.compute()
    got = served.get(f"/v1/runs/{run}/figures")
    figures = got.json()["figures"]
    names = [figure["name"] for figure in figures]
    assert {"buy-down", "ledger.mass", "first failures"} <= set(names)
    assert len(names) == len(set(names))
    for figure in figures:
        assert figure["sentence"].endswith(".")
        assert figure["table"]["rows"]
        assert {"data", "layout"} <= figure["spec"].keys()
    assert got.json()["config"]["showSendToCloud"] is False
    again = served.get(f"/v1/runs/{run}/figures", headers={"if-none-match": got.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    compared = served.ended(compare=["light"])
    kinds = [figure["name"] for figure in served.get(f"/v1/runs/{compared}/figures").json()["figures"]]
    assert kinds == ["compare.chances", "compare.differences"]


def made(cases: int = 2_000) -> Trying:
    return Trying(loads(FERRY), cases)


def test_warm_studies_are_made_once_and_let_go_by_size_and_age() -> None:
    clock = SteppedClock()
    one = made()
    warm = WarmStudies(limit_bytes=int(2.5 * one.nbytes), keep_s=60, clock=clock)
    assert warm.get("a", lambda: one) is one
    assert warm.get("a", made) is one
    warm.get("b", made)
    assert len(warm) == 2
    warm.get("a", made)
    warm.get("c", made)
    assert len(warm) == 2
    assert warm.nbytes <= 2.5 * one.nbytes
    assert warm.get("a", made) is one  # b was the least recent
    clock.step(61)
    warm.get("c", made)
    assert len(warm) == 1


def test_one_that_cannot_be_made_is_tried_again() -> None:
    warm = WarmStudies(limit_bytes=1, keep_s=60, clock=SteppedClock())
    with pytest.raises(ZeroDivisionError):
        warm.get("a", lambda: 1 // 0)  # type: ignore[arg-type,return-value]
    assert len(warm) == 0
    assert json.loads(warm.get("a", made).change([]).model_dump_json())["kind"] == "try"
