"""Studies: looked over, stored by their content, and what they may say."""

from __future__ import annotations

import json
from functools import lru_cache
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Path, Query, Response

from leadline.run.check import CheckResult, check
from leadline.study import json_schema
from leadline_service.asked import asked_study
from leadline_service.bodies import study_body
from leadline_service.conditional import is_known
from leadline_service.dependencies import PLAIN, IfNoneMatch, Reader, Runner, Serving
from leadline_service.description import GUARDED, content, problems, study_body_of
from leadline_service.identifiers import content_id, parse_content_id
from leadline_service.schemas import StoredStudy
from leadline_service.store.errors import NotFound

__all__ = ["StudyText", "router"]

router = APIRouter(prefix="/v1", tags=["studies"], responses=GUARDED)

StudyText = Annotated[str, Depends(study_body)]
FOR_EVER = "private, max-age=31536000, immutable"


@router.post("/studies:check", operation_id="check_study", openapi_extra=study_body_of(), responses=problems(422))
def check_study(
    _caller: Reader,
    text: StudyText,
    option: Annotated[
        str | None, Query(min_length=1, max_length=200, pattern=PLAIN, description="Take this option of the study.")
    ] = None,
) -> CheckResult:
    """Look a study over without running it: its numbers, legs, requirements and median case, or all that is wrong."""
    return check(asked_study(text, option, {}, text_at=()))


@router.get(
    "/schema",
    operation_id="study_schema",
    response_class=Response,
    responses=content(200, "JSON Schema (2020-12) of the study document.", "application/schema+json"),
)
def study_schema(_caller: Reader) -> Response:
    """Return the JSON Schema of a study, for editors that complete keys and say what is wanted."""
    return Response(_schema(), media_type="application/schema+json")


@lru_cache(maxsize=1)
def _schema() -> bytes:
    return json.dumps(json_schema()).encode()


@router.post(
    "/studies",
    operation_id="store_study",
    status_code=201,
    response_model=StoredStudy,
    openapi_extra=study_body_of(),
    responses={200: {"model": StoredStudy, "description": "The text was stored already."}, **problems(422)},
)
def store_study(_caller: Runner, service: Serving, text: StudyText, response: Response) -> Any:
    """Store a study's text under the SHA-256 of its UTF-8 bytes, once it is known to be one."""
    study = asked_study(text, None, {}, text_at=())
    try:
        stored = service.store.study(content_id(text))
        response.status_code = 200
    except NotFound:
        stored = service.store.put_study(text, study.title)
    response.headers["Location"] = f"/v1/studies/{stored.content_id}"
    return StoredStudy.of(stored)


@router.get(
    "/studies/{content_id}",
    operation_id="get_study",
    response_model=StoredStudy,
    responses={**content(304, "Known already; a text never changes."), **problems(404, 422)},
)
def get_study(
    _caller: Reader,
    service: Serving,
    content_id: Annotated[str, Path(min_length=1, max_length=100, description="SHA-256 of the text.")],
    response: Response,
    if_none_match: IfNoneMatch = None,
) -> Any:
    """Return a stored study."""
    stored = service.store.study(parse_content_id(content_id))
    headers = {"ETag": f'"{stored.content_id}"', "Cache-Control": FOR_EVER}
    if is_known(if_none_match, headers["ETag"]):
        return Response(status_code=304, headers=headers)
    response.headers.update(headers)
    return StoredStudy.of(stored)
