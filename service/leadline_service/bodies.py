"""Bodies of requests, read by us: strictly JSON against a model, or the text of a study.

They are read after it is known who asks. What the framework reads by itself it reads before, takes NaN for a number,
and lets a number stand as a text.
"""

from __future__ import annotations

import json
import math
from collections.abc import Awaitable, Callable, Iterable
from typing import Any, NoReturn, TypeVar

from pydantic import BaseModel, ValidationError
from starlette.requests import Request

from leadline.errors import Path
from leadline_service.flaws import Flaw
from leadline_service.refusals import Refusal, pointer

__all__ = ["JSON", "STUDY_TYPES", "json_body", "study_body", "study_text"]

T = TypeVar("T", bound=BaseModel)

JSON = "application/json"
STUDY_TYPES = ("application/yaml", JSON, "application/x-yaml", "text/yaml")
"""Media types a study's text may come as. None of them is one that a page may send elsewhere without asking."""


def json_body(model: type[T]) -> Callable[[Request], Awaitable[T]]:
    """Return what reads a body as JSON of a model: a dependency.

    It raises `Refusal`: 415 for another media type, 422 with every flaw found.
    """

    async def read(request: Request) -> T:
        require_type(request, (JSON,))
        data = await request.body()
        depth: int = request.state.service.settings.max_depth
        tree = _decoded(data, depth)
        try:
            # From the text, where strict means JSON's own types, and a list does for a tuple.
            return model.model_validate_json(json.dumps(tree), strict=True)
        except ValidationError as error:
            raise Refusal(422, errors=[_flaw(tree, item) for item in error.errors(include_url=False)]) from error

    return read


async def study_body(request: Request) -> str:
    """Read a body as the text of a study: a dependency.

    Raises
    ------
    Refusal
        Another media type, or no UTF-8.
    """
    require_type(request, STUDY_TYPES)
    return study_text(await request.body())


def study_text(data: bytes) -> str:
    """Decode a study's text.

    Raises
    ------
    Refusal
        It is no UTF-8.
    """
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _no_text(error) from error


def require_type(request: Request, taken: Iterable[str]) -> None:
    """Refuse a body of another media type than those taken."""
    given = request.headers.get("content-type", "")
    kind, _, parameters = given.partition(";")
    charset = parameters.strip().lower().replace(" ", "").replace('"', "")
    if kind.strip().lower() not in taken or charset not in {"", "charset=utf-8"}:
        types = ", ".join(taken)
        raise Refusal(415, f"The body must be of one of these media types: {types}.", headers={"Accept": types})


def _decoded(data: bytes, most_depth: int) -> Any:
    try:
        tree = json.loads(
            data.decode("utf-8"),
            parse_constant=_no_number,
            parse_float=_finite,
            object_pairs_hook=_without_repeats,
        )
    except UnicodeDecodeError as error:
        raise _no_text(error) from error
    except RecursionError as error:
        raise _too_deep(most_depth) from error
    except json.JSONDecodeError as error:
        where = f"{error.msg} (line {error.lineno}, column {error.colno})"
        raise _refused("json-invalid", where, error.lineno, error.colno) from error
    except ValueError as error:  # a number that no float holds, or of thousands of digits; a key written twice
        raise _refused("json-value", str(error)) from error
    _walk(tree, most_depth)
    return tree


def _walk(tree: Any, most_depth: int) -> None:
    """Refuse a tree too deep, or with texts that are none."""
    waiting: list[tuple[Any, int]] = [(tree, 0)]
    while waiting:
        part, depth = waiting.pop()
        if depth > most_depth:
            raise _too_deep(most_depth)
        if isinstance(part, dict):
            waiting += [(inner, depth + 1) for pair in part.items() for inner in pair]
        elif isinstance(part, list):
            waiting += [(inner, depth + 1) for inner in part]
        elif isinstance(part, str) and not _is_text(part):
            raise _refused("text", "A text holds half of a surrogate pair, or a NUL.")


def _is_text(text: str) -> bool:
    return "\0" not in text and not any("\ud800" <= sign <= "\udfff" for sign in text)


def _no_number(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number in JSON")


def _finite(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(f"{text[:50]} is larger than any number taken here")
    return value


def _without_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) < len(pairs):
        raise ValueError("an object has the same key twice")
    return made


def _flaw(tree: Any, item: Any) -> Flaw:
    """Turn one of pydantic's errors into a flaw with a pointer into the body."""
    code = str(item["type"]).replace("_", "-")
    named = item["type"] in {"missing", "extra_forbidden"}
    return Flaw(pointer=pointer(_place(tree, item["loc"], named=named)), code=code, detail=item["msg"])


def _place(tree: Any, loc: tuple[str | int, ...], *, named: bool) -> Path:
    """Return the place meant: pydantic's without the steps that are no keys, such as which one of a union was tried."""
    steps: list[str | int] = []
    for position, step in enumerate(loc):
        last = position == len(loc) - 1
        inside = (isinstance(tree, dict) and step in tree) or (
            isinstance(tree, list) and isinstance(step, int) and step < len(tree)
        )
        if inside or (last and named):
            steps.append(step)
        tree = tree[step] if inside else tree
    return tuple(steps)


def _no_text(error: UnicodeDecodeError) -> Refusal:
    return _refused("not-text", f"Byte {error.start} of the body is no UTF-8 text.")


def _too_deep(most: int) -> Refusal:
    return _refused("too-deep", f"Lists and objects go deeper into one another than {most} levels.")


def _refused(code: str, detail: str, line: int | None = None, column: int | None = None) -> Refusal:
    return Refusal(422, errors=[Flaw(pointer="#", code=code, detail=detail, line=line, column=column)])
