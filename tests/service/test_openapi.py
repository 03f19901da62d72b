"""The description of the service: valid, complete, and saying the same as what is served."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from leadline_service.application import create_app
from leadline_service.settings import Settings

BODIES = {"POST", "PUT", "PATCH"}
MEDIA_TYPE = "application/problem+json"


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    """Return the description."""
    return create_app(Settings()).openapi()


def operations(document: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Yield method, path and operation."""
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            yield method.upper(), path, operation


def test_it_is_served_as_it_is(tmp_path: Path, document: dict[str, Any]) -> None:
    with TestClient(create_app(Settings(data=tmp_path)), base_url="http://localhost") as client:
        served = client.get("/openapi.json")
    assert served.json() == document
    assert document["openapi"].startswith("3.1.")


def test_every_operation_has_an_id_of_its_own_and_says_what_it_does(document: dict[str, Any]) -> None:
    every = [operation for _, _, operation in operations(document)]
    ids = [operation["operationId"] for operation in every]
    assert len(set(ids)) == len(ids)
    assert all(identifier.replace("_", "").isalpha() and identifier.islower() for identifier in ids)
    assert all(operation.get("description") and operation.get("tags") for operation in every)


def test_every_problem_is_a_problem_document(document: dict[str, Any]) -> None:
    for method, path, operation in operations(document):
        for status, answer in operation["responses"].items():
            if int(status) >= 400:
                assert list(answer["content"]) == [MEDIA_TYPE], (method, path, status)
                assert answer["content"][MEDIA_TYPE]["schema"] == {"$ref": "#/components/schemas/Problem"}


def test_what_every_operation_can_answer_is_said(document: dict[str, Any]) -> None:
    for method, path, operation in operations(document):
        wanted = {"500"}
        if operation.get("security"):
            wanted |= {"401", "403", "429", "503"}
        if operation.get("parameters") or "requestBody" in operation:
            wanted |= {"422"}
        if "requestBody" in operation:
            wanted |= {"408", "413", "415"}
        if "{" in path:
            wanted |= {"404"}
        assert wanted <= set(operation["responses"]), (method, path)
        assert any(int(status) < 400 for status in operation["responses"])
        if method in BODIES and "requestBody" not in operation:
            assert path.endswith("/cancel")


def test_retry_after_is_said_wherever_it_is_sent(document: dict[str, Any]) -> None:
    for method, path, operation in operations(document):
        for status in {"429", "503"} & set(operation["responses"]):
            assert "Retry-After" in operation["responses"][status]["headers"], (method, path)


def test_every_reference_leads_somewhere_and_every_schema_is_used(document: dict[str, Any]) -> None:
    schemas = document["components"]["schemas"]
    named = set(references(document))
    assert named == {f"#/components/schemas/{name}" for name in schemas}
    assert "HTTPValidationError" not in schemas  # the framework's own, which is never sent


def references(part: Any) -> Iterator[str]:
    """Yield every reference in a document."""
    if isinstance(part, dict):
        if isinstance(part.get("$ref"), str):
            yield part["$ref"]
        for inner in part.values():
            yield from references(inner)
    elif isinstance(part, list):
        for inner in part:
            yield from references(inner)


def test_requests_refuse_what_they_do_not_know(document: dict[str, Any]) -> None:
    for name in ("RunRequest", "TrialRequest", "CompareRequest", "Extension", "SizingAnswer"):
        assert document["components"]["schemas"][name]["additionalProperties"] is False, name
