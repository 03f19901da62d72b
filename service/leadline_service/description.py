"""The description of the service (OpenAPI 3.1): what every route has in common is said once, here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from http import HTTPStatus
from typing import Any, Final

from fastapi import FastAPI
from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from leadline_service.bodies import JSON, STUDY_TYPES
from leadline_service.problems import MEDIA_TYPE, Problem

__all__ = ["GUARDED", "Described", "body_of", "content", "problems", "study_body_of"]

Responses = dict[int | str, dict[str, Any]]

SCHEMAS: Final = "#/components/schemas/"
MEANINGS: Final[Mapping[int, str]] = {
    401: "No good token is shown.",
    403: "The token's role does not reach.",
    404: "There is no such thing.",
    408: "The request did not arrive in time.",
    409: "Its state does not allow it.",
    410: "It was there once and is gone.",
    413: "The body is too large.",
    415: "The body is of a media type that is not taken.",
    416: "No byte of the file lies in the range.",
    422: "The request cannot be used as written; every flaw is listed.",
    429: "Too many requests, or too many runs of this caller waiting.",
    500: "A fault of the server.",
    503: "The service cannot answer just now.",
}
RETRY_AFTER: Final = {"description": "When to try again, s.", "schema": {"type": "integer"}}
HEADERS: Final[Mapping[int, Mapping[str, Any]]] = {
    401: {"WWW-Authenticate": {"description": "How to show a token.", "schema": {"type": "string"}}},
    429: {"Retry-After": RETRY_AFTER},
    503: {"Retry-After": RETRY_AFTER},
}
BODY_PROBLEMS: Final = (408, 413, 415, 422)


def problems(*statuses: int) -> Responses:
    """Return the answers with a problem document that a route can give."""
    return {status: _problem(status) for status in statuses}


def _problem(status: int) -> dict[str, Any]:
    described: dict[str, Any] = {
        "description": f"{HTTPStatus(status).phrase}. {MEANINGS[status]}",
        "content": {MEDIA_TYPE: {"schema": {"$ref": f"{SCHEMAS}{Problem.__name__}"}}},
    }
    return {**described, "headers": dict(HEADERS[status])} if status in HEADERS else described


GUARDED: Final = problems(401, 403, 429, 500, 503)
"""What every route that takes a token can answer."""


def content(status: int, description: str, *types: str, headers: Mapping[str, str] | None = None) -> Responses:
    """Return an answer that is no JSON document of ours: text, bytes, or nothing.

    Parameters
    ----------
    status
        Its status.
    description
        What it is.
    types
        Its media types; none for an answer without a body.
    headers
        Its headers by name, with what they say.
    """
    described: dict[str, Any] = {"description": description}
    if types:
        described["content"] = {kind: {"schema": {} if kind.endswith("json") else {"type": "string"}} for kind in types}
    if headers:
        described["headers"] = {
            name: {"description": says, "schema": {"type": "string"}} for name, says in headers.items()
        }
    return {status: described}


def body_of(model: type[BaseModel]) -> dict[str, Any]:
    """Return how a body read by `leadline_service.bodies.json_body` is described."""
    return {"requestBody": {"required": True, "content": {JSON: {"schema": {"$ref": f"{SCHEMAS}{model.__name__}"}}}}}


def study_body_of() -> dict[str, Any]:
    """Return how a body that is a study's text is described; as JSON it is a study itself."""
    text = {"type": "string", "description": "A study as YAML or JSON text; see /v1/schema for what it may say."}
    kinds = {kind: {"schema": {"type": "object"} if kind == JSON else text} for kind in STUDY_TYPES}
    return {"requestBody": {"required": True, "content": kinds}}


class Described(FastAPI):
    """An application whose description also names the models that are read without the framework.

    Parameters
    ----------
    bodies
        Models of request bodies.
    settings
        What the framework takes.
    """

    def __init__(self, *, bodies: Sequence[type[BaseModel]], **settings: Any) -> None:
        super().__init__(**settings)
        self._bodies = tuple(bodies)

    def openapi(self) -> dict[str, Any]:
        """Return the description, made once."""
        if self.openapi_schema is None:
            made = super().openapi()
            components = made.setdefault("components", {}).setdefault("schemas", {})
            wanted = [(model, "validation") for model in (*self._bodies, Problem)]
            _, schema = models_json_schema(wanted, ref_template=f"{SCHEMAS}{{model}}")  # type: ignore[arg-type]
            for name, part in schema["$defs"].items():
                components.setdefault(name, part)
            for operation in _operations(made):
                _tidy(operation)
            self.openapi_schema = made
        return self.openapi_schema


def _operations(document: dict[str, Any]) -> list[dict[str, Any]]:
    return [operation for path in document["paths"].values() for operation in path.values()]


def _tidy(operation: dict[str, Any]) -> None:
    """Put right what the framework says of streams (OpenAPI 3.2), and say what every body can be refused for."""
    for answer in operation["responses"].values():
        for described in answer.get("content", {}).values():
            if "itemSchema" in described:
                described["schema"] = described.pop("itemSchema")
    if "requestBody" in operation:
        for status in BODY_PROBLEMS:
            operation["responses"][str(status)] = _problem(status)
    operation["responses"] = dict(sorted(operation["responses"].items()))
