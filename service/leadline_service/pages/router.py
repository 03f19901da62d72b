"""The screens, each at an address that can be bookmarked."""

from __future__ import annotations

import json
from typing import Annotated, Final
from urllib.parse import quote

from fastapi import APIRouter, Query
from starlette.responses import HTMLResponse, RedirectResponse, Response

from leadline.report.panel import Cell, Table
from leadline.report.wording import chance
from leadline.run.answer_files import Answers
from leadline.run.document import Chance
from leadline.run.trying import MOST_CASES
from leadline_service.access import Caller
from leadline_service.dependencies import KnownRun, Serving
from leadline_service.findings import findings_of
from leadline_service.identifiers import BadIdentifier, parse_content_id, parse_run_id, parse_study_name
from leadline_service.pages import documents, signing_in, static_files
from leadline_service.pages.demos import demos
from leadline_service.pages.documents import Visitor
from leadline_service.pages.listing import RunRow, run_row, study_name_of, study_row
from leadline_service.pages.rendering import page
from leadline_service.pages.run_view import case_view, found_context, links_of, progress_view
from leadline_service.pages.study_view import StudyView, named_study, new_study, stored_study
from leadline_service.pages.try_view import movable_numbers
from leadline_service.refusals import Refusal
from leadline_service.requests import RunRequest
from leadline_service.serving import Service
from leadline_service.store.records import RunFilter, RunRecord

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
router.include_router(static_files.router)
router.include_router(signing_in.router)
router.include_router(documents.router)

PAGE_OF_RUNS: Final = 25
PAGE_OF_STUDIES: Final = 50
MOST_BESIDE: Final = 8


Cursor = Annotated[str | None, Query(min_length=1, max_length=1_000, pattern=r"^[^\x00-\x1f\x7f]*$")]


@router.get("/")
def index(caller: Visitor, service: Serving, runs: Cursor = None, studies: Cursor = None) -> HTMLResponse:
    """Show studies and runs."""
    named = service.store.studies(studies, PAGE_OF_STUDIES)
    listed = service.store.runs(None, runs, PAGE_OF_RUNS)
    return page(
        "index",
        title="Studies and runs",
        here="/",
        caller=caller,
        studies=[study_row(service, one) for one in named.items],
        more_studies=None if named.next is None else f"/?studies={quote(named.next)}",
        runs=[run_row(service, one) for one in listed.items],
        older=None if listed.next is None else f"/?runs={quote(listed.next)}",
        demos=demos(),
    )


@router.get("/studies/new")
def write_new(
    caller: Visitor,
    service: Serving,
    demo: Annotated[str | None, Query(max_length=200)] = None,
    content: Annotated[str | None, Query(alias="from", max_length=100)] = None,
) -> HTMLResponse:
    """Show a new study to be written."""
    study = new_study(demo) if content is None else stored_study(service, parse_content_id(content))
    return _study(caller, study, (), (), here="/studies/new")


@router.get("/studies/{name}")
def write(
    caller: Visitor, service: Serving, name: str, version: Annotated[int | None, Query(ge=1, le=2**31 - 1)] = None
) -> HTMLResponse:
    """Show a named study to be written on."""
    named = service.store.version(_name(name), version)
    versions = service.store.versions(named.name, None, PAGE_OF_RUNS).items
    runs = service.store.runs(RunFilter(study=named.name), None, PAGE_OF_RUNS).items
    rows = tuple(
        {
            "version": one.version,
            "title": one.title,
            "caller": one.caller,
            "created": one.created,
            "when": one.created.strftime("%Y-%m-%d %H:%M UTC"),
            "address": f"/studies/{one.name}?version={one.version}",
        }
        for one in versions
    )
    return _study(
        caller, named_study(service, named), rows, tuple(run_row(service, one) for one in runs), here=f"/studies/{name}"
    )


def _study(
    caller: Caller, study: StudyView, versions: tuple[dict[str, object], ...], runs: tuple[RunRow, ...], *, here: str
) -> HTMLResponse:
    return page(
        "study",
        title=study.title or "A new study",
        here=here,
        caller=caller,
        study=study,
        versions=versions,
        runs=runs,
    )


@router.get("/runs/{run_id}")
def show_run(
    caller: Visitor,
    service: Serving,
    run: KnownRun,
    case: Annotated[int | None, Query(ge=0, le=10**13)] = None,
) -> HTMLResponse:
    """Show a run as it stands, and what it found."""
    row = run_row(service, run)
    found = found_context(service, run)
    return page(
        "run",
        title=row.title,
        here="",
        caller=caller,
        run=row,
        about=_about(service, run),
        progress=progress_view(run),
        links=links_of(service, run),
        case=None if case is None or found["view"] is None else case_view(service, run, case),
        **found,
    )


@router.get("/runs/{run_id}/try")
def try_run(caller: Visitor, service: Serving, run: KnownRun) -> HTMLResponse:
    """Show the numbers of a run's study, to be moved."""
    request = RunRequest.of(run.request)
    text = service.store.study(run.study_id).text
    study = request.study_of(text)
    findings = findings_of(service, run)
    return page(
        "try",
        title=f"Try a change: {study.title}",
        here="",
        caller=caller,
        run=run_row(service, run),
        about=_about(service, run),
        try_cases=min(100_000, request.most_cases, MOST_CASES),
        set_json=json.dumps(request.set),
        options=study.options,
        numbers=movable_numbers(study),
        opening=findings.sentence if isinstance(findings, Answers) else "",
    )


@router.get("/compare")
def choose(_caller: Visitor, run: Annotated[list[str] | None, Query()] = None) -> Response:
    """Go to the screen that puts the marked runs side by side."""
    ids = [parse_run_id(one) for one in (run or [])[:MOST_BESIDE]]
    return RedirectResponse(f"/compare/{','.join(ids)}" if ids else "/", 303)


@router.get("/compare/{ids}")
def beside(caller: Visitor, service: Serving, ids: str) -> HTMLResponse:
    """Show runs side by side."""
    runs = [service.store.run(parse_run_id(one)) for one in ids.split(",")[:MOST_BESIDE]]
    found = found_context(service, runs[0]) if len(runs) == 1 else {"comparison": None, "opening": None}
    return page(
        "compare",
        title="Side by side",
        here="",
        caller=caller,
        runs=[run_row(service, one) for one in runs],
        comparison=found["comparison"],
        opening=found["opening"] if found["comparison"] else None,
        chances=_chances(service, runs),
        caveat=_caveat(runs),
    )


def _chances(service: Service, runs: list[RunRecord]) -> Table:
    """Return requirements down, runs across."""
    found = [findings_of(service, run) if run.has_ended else None for run in runs]
    results = [one.result for one in found if isinstance(one, Answers) and one.result is not None]
    held = [{each.name: each.chance for each in result.requirements} for result in results]
    names = dict.fromkeys(name for one in held for name in one)
    rows = [(Cell(name), *(_held(one.get(name)) for one in held)) for name in names]
    together = tuple(_held(result.chance) for result in results)
    headers = ("requirement", *(_headed(result.study.title, result.study.option) for result in results))
    return Table(headers, (*rows, (Cell("everything together"), *together)) if results else ())


def _held(given: Chance | None) -> Cell:
    return Cell("not required") if given is None else Cell(chance(given), given.value)


def _headed(title: str, option: str | None) -> str:
    return title if option is None else f"{title}, {option}"


def _caveat(runs: list[RunRecord]) -> str:
    if len({(run.request.get("seed"), run.request.get("design")) for run in runs}) > 1:
        return "These runs have different seeds or designs, so their draws are not the same: compare the intervals."
    return (
        "Runs of one seed share the draws of every number they have in common. For the paired difference, which is "
        "sharper than two intervals, run the options of one study side by side."
    )


def _about(service: Service, run: RunRecord) -> dict[str, str | None]:
    """Return which named study a run is of, and where its text can be written on."""
    name = study_name_of(service, run.study_id)
    address = f"/studies/{name}" if name is not None else f"/studies/new?from={run.study_id}"
    return {"name": name, "address": address, "words": name or "its study"}


def _name(name: str) -> str:
    try:
        return parse_study_name(name)
    except BadIdentifier as error:
        raise Refusal(404) from error
