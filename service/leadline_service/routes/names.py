"""Names of studies, each with its versions."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Path, Query, Response

from leadline_service.asked import asked_study
from leadline_service.dependencies import Cursor, Limit, Reader, Runner, Serving
from leadline_service.description import GUARDED, content, problems, study_body_of
from leadline_service.flaws import Flaw
from leadline_service.identifiers import BadIdentifier, parse_study_name
from leadline_service.paging import link_next
from leadline_service.refusals import Refusal
from leadline_service.routes.studies import StudyText
from leadline_service.schemas import NamesPage, NameVersion

__all__ = ["router"]

router = APIRouter(prefix="/v1/names", tags=["names"], responses={**GUARDED, **problems(404, 422)})


def _name(
    name: Annotated[str, Path(min_length=1, max_length=200, description="Name of a study, chosen by a caller.")],
) -> str:
    """Return the name of the address; 422 where it is none."""
    try:
        return parse_study_name(name)
    except BadIdentifier as error:
        raise Refusal(422, errors=[Flaw(parameter="name", code="name", detail=str(error))]) from error


Name = Annotated[str, Depends(_name)]


@router.get("", operation_id="list_names")
def list_names(
    _caller: Reader, service: Serving, response: Response, cursor: Cursor = None, limit: Limit = 50
) -> NamesPage:
    """List the newest version of every name, by name."""
    page = service.store.studies(cursor, limit)
    link_next(response, "/v1/names", page.next, limit=limit)
    return NamesPage.of(page)


@router.put("/{name}", operation_id="name_study", openapi_extra=study_body_of())
def name_study(caller: Runner, service: Serving, name: Name, text: StudyText) -> NameVersion:
    """Make a text the newest version of a name; when it is already, nothing changes."""
    study = asked_study(text, None, {}, text_at=())
    return NameVersion.of(service.store.name_study(name, text, study.title, caller.name))


@router.get("/{name}", operation_id="get_name")
def get_name(
    _caller: Reader,
    service: Serving,
    name: Name,
    version: Annotated[
        int | None, Query(ge=1, le=2**31 - 1, description="Which version; the newest if left out.")
    ] = None,
) -> NameVersion:
    """Return one version of a name."""
    return NameVersion.of(service.store.version(name, version))


@router.get("/{name}/versions", operation_id="list_versions")
def list_versions(
    _caller: Reader, service: Serving, name: Name, response: Response, cursor: Cursor = None, limit: Limit = 50
) -> NamesPage:
    """List a name's versions, newest first."""
    page = service.store.versions(name, cursor, limit)
    link_next(response, f"/v1/names/{name}/versions", page.next, limit=limit)
    return NamesPage.of(page)


@router.delete(
    "/{name}",
    operation_id="forget_name",
    status_code=204,
    response_class=Response,
    responses=content(204, "The name is gone; texts stay as long as runs need them."),
)
def forget_name(_caller: Runner, service: Serving, name: Name) -> Response:
    """Remove a name and its versions."""
    service.store.forget_name(name)
    return Response(status_code=204)
