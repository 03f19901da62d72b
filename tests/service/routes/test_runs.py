"""Runs asked for, found, followed, stopped, gone on with and deleted, on both kinds of store."""

from __future__ import annotations

import re
from typing import Any

import pytest

from leadline.run.engine import run_study
from leadline.run.result import Result
from leadline.study import loads
from service.routes.served import FERRY, Served


def test_a_run_from_submission_to_answer(served_on_both: Served) -> None:
    served = served_on_both
    study = served.stored()
    answer = served.post("/v1/runs", json={"study": study, "cases": 20_000, "seed": 3})
    assert (answer.status_code, answer.json()["found"], answer.json()["state"]) == (202, "new", "queued")
    assert answer.headers["location"] == f"/v1/runs/{answer.json()['run_id']}"
    assert int(answer.headers["retry-after"]) >= 1
    assert answer.json()["estimate"]["cases"] == 20_000  # exact: no further answers
    assert 0 < answer.json()["estimate"]["seconds"] < 60
    served.compute()
    run = served.get(answer.headers["location"])
    assert (run.status_code, run.json()["state"], run.json()["partial"]) == (200, "finished", False)
    assert "retry-after" not in run.headers
    got = served.get(run.json()["links"]["result"])
    # exact: the library's own answer, bit for bit
    assert Result.from_json(got.content) == run_study(loads(FERRY), cases=20_000, seed=3)
    assert run.json()["progress"]["chance"] == got.json()["chance"]


def test_the_same_run_is_found_not_computed_again(served_on_both: Served) -> None:
    served = served_on_both
    first = served.ended(seed=1)
    again = served.post("/v1/runs", json={"study": served.stored(), "cases": 2_000, "seed": 1})
    assert (again.status_code, again.json()["found"], again.json()["run_id"]) == (200, "same-run", first)
    assert "retry-after" not in again.headers  # it has ended
    same_meaning = served.stored("# said otherwise\n" + FERRY)
    other_text = served.post("/v1/runs", json={"study": same_meaning, "cases": 2_000, "seed": 1})
    assert (other_text.status_code, other_text.json()["run_id"]) == (200, first)
    other_seed = served.post("/v1/runs", json={"study": served.stored(), "cases": 2_000, "seed": 2})
    assert (other_seed.status_code, other_seed.json()["found"]) == (202, "new")


def test_an_idempotency_key_names_one_request(served_on_both: Served) -> None:
    served = served_on_both
    asked: dict[str, Any] = {"study": served.stored(), "cases": 2_000}
    key = {"idempotency-key": "monday-1"}
    first = served.post("/v1/runs", json=asked, headers=key)
    again = served.post("/v1/runs", json=asked, headers=key)
    assert (first.status_code, again.status_code, again.json()["found"]) == (202, 200, "same-key")
    assert again.json()["run_id"] == first.json()["run_id"]
    other = served.post("/v1/runs", json={**asked, "cases": 3_000}, headers=key)
    assert (other.status_code, other.json()["errors"][0]["parameter"]) == (422, "Idempotency-Key")
    somebody = served.token("somebody-else")
    theirs = served.post("/v1/runs", somebody, json={**asked, "cases": 3_000}, headers=key)
    assert theirs.status_code == 202  # keys belong to callers


def test_a_status_is_sent_again_only_when_it_has_changed(served_on_both: Served) -> None:
    served = served_on_both
    run_id = served.started()
    first = served.get(f"/v1/runs/{run_id}")
    assert int(first.headers["retry-after"]) >= 1
    known = {"if-none-match": first.headers["etag"]}
    same = served.get(f"/v1/runs/{run_id}", headers=known)
    assert (same.status_code, same.content, same.headers["etag"]) == (304, b"", first.headers["etag"])
    served.compute()
    changed = served.get(f"/v1/runs/{run_id}", headers=known)
    assert (changed.status_code, changed.json()["state"]) == (200, "finished")
    assert changed.headers["etag"] != first.headers["etag"]


def test_pages_follow_one_another_while_runs_are_added(served_on_both: Served) -> None:
    served = served_on_both
    made = [served.started(seed=seed) for seed in range(7)]
    seen: list[str] = []
    address: str | None = "/v1/runs?limit=3&caller=run"
    while address is not None:
        page = served.get(address)
        assert page.status_code == 200
        seen += [run["run_id"] for run in page.json()["items"]]
        made.append(served.started(seed=100 + len(seen)))  # newer than the pages left, so in none of them
        link = re.fullmatch(r'<(.*)>; rel="next"', page.headers.get("link", ""))
        assert (link is None) == (page.json()["next"] is None)
        address = None if link is None else link[1]
    assert seen == made[:7][::-1]


def test_lists_are_filtered(served: Served) -> None:
    other = served.token("ann")
    served.ask("PUT", "/v1/names/ferry", content=FERRY, headers={"content-type": "application/yaml"})
    queued, theirs = served.started(seed=1), served.started(other, seed=2)
    finished = served.compute().run_id
    assert {queued, theirs} - {finished} == {one["run_id"] for one in listed(served, "state=queued")}
    assert [one["run_id"] for one in listed(served, "caller=ann")] == [theirs]
    assert len(listed(served, f"study={served.stored()}")) == len(listed(served, "study=ferry")) == 2
    assert listed(served, "study=unheard-of") == []
    refused = served.get("/v1/runs?study=No%20Name")
    assert (refused.status_code, refused.json()["errors"][0]["parameter"]) == (422, "study")
    cursor = served.get("/v1/runs?limit=1").json()["next"]
    mixed = served.get(f"/v1/runs?limit=1&state=queued&cursor={cursor}")
    assert (mixed.status_code, mixed.json()["errors"][0]["parameter"]) == (422, "cursor")


def listed(served: Served, query: str) -> list[dict[str, Any]]:
    """Return the runs of a listing that fits on a page."""
    items: list[dict[str, Any]] = served.get(f"/v1/runs?{query}").json()["items"]
    return items


def test_a_waiting_run_is_cancelled_at_once_and_one_under_way_is_asked_to_stop(served_on_both: Served) -> None:
    served = served_on_both
    waiting = served.started(seed=1)
    gone = served.post(f"/v1/runs/{waiting}/cancel")
    assert (gone.status_code, gone.json()["state"]) == (200, "cancelled")
    running = served.started(seed=2)
    claim = served.store.claim("test", 60)
    assert claim is not None
    asked = served.post(f"/v1/runs/{running}/cancel")
    assert (asked.status_code, asked.json()["state"]) == (202, "stopping")
    assert served.store.heartbeat(running, claim.fence, 60)
    served.store.stopped(running, claim.fence, {"cases": {"total": 10}})
    ended = served.post(f"/v1/runs/{running}/cancel").json()
    assert (ended["state"], ended["partial"]) == ("cancelled", True)


def test_others_runs_are_stopped_and_deleted_by_administrators_only(served: Served) -> None:
    run_id, other = served.started(), served.token("ann")
    for method, path in (("POST", f"/v1/runs/{run_id}/cancel"), ("DELETE", f"/v1/runs/{run_id}")):
        assert served.ask(method, path, other).status_code == 403
    assert served.post(f"/v1/runs/{run_id}/cancel", "admin").status_code == 200
    assert served.ask("DELETE", f"/v1/runs/{run_id}", "admin").status_code == 204


def test_only_ended_runs_are_deleted(served_on_both: Served) -> None:
    served = served_on_both
    run_id = served.started()
    early = served.ask("DELETE", f"/v1/runs/{run_id}")
    assert (early.status_code, run_id in early.json()["detail"]) == (409, True)
    served.compute()
    assert served.ask("DELETE", f"/v1/runs/{run_id}").status_code == 204
    assert served.get(f"/v1/runs/{run_id}").status_code == 404
    assert served.store.condemned() == (run_id,)


def test_a_run_is_extended_by_more_cases(served: Served) -> None:
    run_id = served.started(cases=40_000)
    early = served.post(f"/v1/runs/{run_id}/extend", json={"cases": 1_000})
    assert early.status_code == 409
    served.compute()
    more = served.post(f"/v1/runs/{run_id}/extend", json={"cases": 25_000})
    assert (more.status_code, more.json()["extends"], more.json()["request"]["cases"]) == (202, run_id, 65_000)
    served.compute()
    result = Result.from_json(served.get(f"/v1/runs/{more.json()['run_id']}/result").content)
    assert result == run_study(loads(FERRY), cases=65_000)  # exact: as if asked for in one


def test_a_comparison_is_not_extended(served: Served) -> None:
    run_id = served.ended(compare=["light"])
    assert served.get(f"/v1/runs/{run_id}/result").json()["kind"] == "comparison"
    assert served.post(f"/v1/runs/{run_id}/extend", json={"cases": 1}).status_code == 409


@pytest.mark.parametrize(
    ("change", "pointer", "code"),
    [
        ({"study": "0" * 64}, "#/study", "no-study"),
        ({"option": "heavy"}, "#/option", "unknown-option"),
        ({"set": {"ferry.dry_mass": "9 parsec"}}, "#/set/ferry.dry_mass", "unknown-unit"),
        ({"set": {"ferry.nothing": "9 t"}}, "#/set/ferry.nothing", None),
        ({"compare": ["light", "heavy"]}, "#/compare/1", "unknown-option"),
        ({"cases": 0}, "#/cases", "greater-than-equal"),
        ({"cases": "1000"}, "#/cases", "int-type"),
        ({"casse": 5}, "#/casse", "extra-forbidden"),
        ({"answers": [{"kind": "sizing"}]}, "#/answers/0/place", "missing"),
        (
            {"answers": [{"kind": "sweep", "ranges": [{"place": "a", "low": "1"}]}]},
            "#/answers/0/ranges/0/high",
            "missing",
        ),
        ({"answers": [{"kind": "guess"}]}, "#/answers/0", "union-tag-invalid"),
        ({"until": 2.0}, "#/until", "less-than"),
        ({"option": "light", "compare": ["light"]}, "#", "value-error"),
    ],
)
def test_what_does_not_fit_is_pointed_at(
    served: Served, change: dict[str, Any], pointer: str, code: str | None
) -> None:
    answer = served.post("/v1/runs", json={"study": served.stored(), **change})
    assert answer.status_code == 422, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    flaw = answer.json()["errors"][0]
    assert flaw["pointer"] == pointer
    assert code is None or flaw["code"] == code
    assert flaw["detail"]


def test_a_run_too_large_or_too_long_is_refused_with_the_numbers(served: Served) -> None:
    asked = {"study": served.stored(), "cases": 2 * 10**12}
    large = served.post("/v1/runs", json=asked)
    assert (large.status_code, large.json()["errors"][0]["code"]) == (422, "too-many-cases")
    assert "2000000000000 cases" in large.json()["detail"]
    answers = [{"kind": "rare", "most_cases": 10**8}] * 20
    long = served.post("/v1/runs", json={**asked, "cases": 10**12, "answers": answers})
    assert long.status_code == 422
    assert re.search(r"\d+", long.json()["detail"])
