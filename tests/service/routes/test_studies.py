"""Studies looked over, stored and named; their schema."""

from __future__ import annotations

import hashlib
import json

import pytest
import yaml

from leadline.run.check import CheckResult, check
from leadline.study import json_schema, loads
from service.routes.served import FERRY, YAML, Served

WRONG = FERRY.replace("8 m3", "8 parsec").replace("main: {isp", "main: {thrust: -1 N, isp")


@pytest.mark.parametrize(
    "kind", ["application/yaml", "text/yaml; charset=UTF-8", "application/x-yaml", "application/json"]
)
def test_a_study_is_looked_over_as_the_library_does(served: Served, kind: str) -> None:
    text = json.dumps(yaml.safe_load(FERRY)) if kind.endswith("json") else FERRY
    answer = served.post("/v1/studies:check", "read", content=text, headers={"content-type": kind})
    assert answer.status_code == 200, answer.text
    assert CheckResult.from_json(answer.content) == check(loads(text))  # exact: the same function


def test_everything_wrong_is_told_at_once_with_pointer_line_and_column(served: Served) -> None:
    answer = served.post("/v1/studies:check", "read", content=WRONG, headers=YAML)
    assert (answer.status_code, answer.headers["content-type"]) == (422, "application/problem+json")
    flaws = {flaw["pointer"]: flaw for flaw in answer.json()["errors"]}
    lines = WRONG.splitlines()
    for pointer, given in (
        ("#/vehicle/ferry/tanks/hold/volume", "8 parsec"),
        ("#/vehicle/ferry/engines/main/thrust", "-1 N"),
    ):
        flaw = flaws[pointer]
        assert flaw["detail"]
        assert flaw["code"]
        assert given in lines[flaw["line"] - 1][flaw["column"] - 1 :]  # exact: where the text has it


@pytest.mark.parametrize("text", [b"", b"\xff\xfe", b"a: [", b"\0", b"1", b"{" * 100_000, b"- " * 50_000, b"&a [*a]"])
def test_what_is_no_study_is_refused(served: Served, text: bytes) -> None:
    for path in ("/v1/studies:check", "/v1/studies"):
        answer = served.post(path, content=text, headers=YAML)
        assert (answer.status_code, bool(answer.json()["errors"])) == (422, True), text[:20]


@pytest.mark.parametrize("kind", ["text/plain", "multipart/form-data", "application/yaml; charset=latin-1", ""])
def test_other_media_types_are_refused(served: Served, kind: str) -> None:
    answer = served.post("/v1/studies", content=FERRY, headers={"content-type": kind})
    assert (answer.status_code, "application/yaml" in answer.headers["accept"]) == (415, True)


def test_an_option_is_looked_over(served: Served) -> None:
    answer = served.post("/v1/studies:check?option=light", "read", content=FERRY, headers=YAML)
    assert answer.json()["study"]["option"] == "light"
    unknown = served.post("/v1/studies:check?option=heavy", "read", content=FERRY, headers=YAML)
    assert (unknown.status_code, unknown.json()["errors"][0]["code"]) == (422, "unknown-option")


def test_a_study_is_stored_under_its_content(served_on_both: Served) -> None:
    served = served_on_both
    digest = hashlib.sha256(FERRY.encode()).hexdigest()  # exact
    first = served.post("/v1/studies", content=FERRY, headers=YAML)
    again = served.post("/v1/studies", content=FERRY, headers=YAML)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    assert first.headers["location"] == f"/v1/studies/{digest}"
    got = served.get(first.headers["location"])
    assert (got.json()["text"], got.json()["title"]) == (FERRY, "A ferry out and back")
    known = served.get(first.headers["location"], headers={"if-none-match": f'W/"x", "{digest}"'})
    assert (known.status_code, known.content) == (304, b"")
    assert served.get(f"/v1/studies/{'0' * 64}").status_code == 404
    assert served.get("/v1/studies/nonsense").status_code == 404


def test_names_keep_versions(served_on_both: Served) -> None:
    served = served_on_both
    texts = [FERRY, FERRY + "# two\n", FERRY + "# two\n", FERRY + "# three\n"]
    put = [served.ask("PUT", "/v1/names/the-ferry", content=text, headers=YAML).json() for text in texts]
    assert [one["version"] for one in put] == [1, 2, 2, 3]
    newest = served.get("/v1/names/the-ferry").json()
    assert (newest["version"], newest["caller"]) == (3, "run")
    assert served.get("/v1/names/the-ferry?version=1").json()["content_id"] == served.stored(FERRY)
    pages = served.get("/v1/names/the-ferry/versions?limit=2")
    assert [one["version"] for one in pages.json()["items"]] == [3, 2]
    after = served.get(pages.headers["link"].partition(">")[0].lstrip("<"))
    assert [one["version"] for one in after.json()["items"]] == [1]
    assert "link" not in after.headers
    assert [one["name"] for one in served.get("/v1/names").json()["items"]] == ["the-ferry"]
    assert served.ask("DELETE", "/v1/names/the-ferry").status_code == 204
    assert served.get("/v1/names/the-ferry").status_code == 404


@pytest.mark.parametrize("name", ["The-Ferry", "-x", "0" * 64, "a%00b", "x" * 150])
def test_a_name_that_is_none(served: Served, name: str) -> None:
    answer = served.ask("PUT", f"/v1/names/{name}", content=FERRY, headers=YAML)
    assert (answer.status_code, answer.json()["errors"][0]["parameter"]) == (422, "name")


def test_the_schema_is_the_librarys(served: Served) -> None:
    answer = served.get("/v1/schema")
    assert (answer.status_code, answer.headers["content-type"]) == (200, "application/schema+json")
    assert answer.json() == json_schema()
