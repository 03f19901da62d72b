"""What a run left: the result, the report, further answers, the margins, every case."""

from __future__ import annotations

import html
import re
from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Header, Path, Response
from fastapi.responses import StreamingResponse

from leadline.run.answers import DriversResult, RareResult, SizingResult, SweepResult
from leadline.run.result import CompareResult, Result
from leadline_service.conditional import is_known, span_of
from leadline_service.dependencies import IfNoneMatch, KnownRun, Reader, Serving
from leadline_service.description import GUARDED, content, problems
from leadline_service.problems import SOON
from leadline_service.refusals import Refusal
from leadline_service.schemas import Files
from leadline_service.serving import Service
from leadline_service.store.records import FileRecord, RunRecord

__all__ = ["router"]

router = APIRouter(prefix="/v1/runs", tags=["results"], responses={**GUARDED, **problems(404, 422)})

PARTS = content(
    206,
    "The bytes asked for.",
    "application/json",
    "text/html",
    "text/csv",
    "application/vnd.apache.parquet",
    "application/octet-stream",
    headers={"Content-Range": "Which bytes, of how many."},
)
KNOWN = {**content(304, "Known already."), **problems(409, 410, 416)}
POLICY = re.compile(r'<meta http-equiv="Content-Security-Policy" content="([^"\r\n]*)">')
NO_SCRIPT = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


class Wanted:
    """What of a file is wanted: the conditional and range headers of a request."""

    def __init__(
        self,
        if_none_match: IfNoneMatch = None,
        range_: Annotated[str | None, Header(alias="Range", max_length=200, description="One range of bytes.")] = None,
        if_range: Annotated[
            str | None, Header(max_length=200, description="Entity tag of what the range is a part of.")
        ] = None,
    ) -> None:
        self.if_none_match, self.range, self.if_range = if_none_match, range_, if_range


Part = Annotated[Wanted, Depends(Wanted)]


@router.get(
    "/{run_id}/result", operation_id="get_result", response_model=Result | CompareResult, responses={**PARTS, **KNOWN}
)
def get_result(_caller: Reader, service: Serving, run: KnownRun, wanted: Part) -> Any:
    """Return the result of a run, or the comparison it was asked for."""
    return _sent(
        service, _file(service, run, "comparison.json" if run.request.get("compare") else "result.json"), wanted
    )


@router.get(
    "/{run_id}/report",
    operation_id="get_report",
    response_class=Response,
    responses={**content(200, "The report, one page that needs nothing else.", "text/html"), **PARTS, **KNOWN},
)
def get_report(_caller: Reader, service: Serving, run: KnownRun, wanted: Part) -> Response:
    """Return the report of a run."""
    return _sent(service, _file(service, run, "report.html"), wanted)


@router.get(
    "/{run_id}/margins.csv",
    operation_id="get_margins",
    response_class=Response,
    responses={**content(200, "A line for each requirement, SI units.", "text/csv"), **PARTS, **KNOWN},
)
def get_margins(_caller: Reader, service: Serving, run: KnownRun, wanted: Part) -> Response:
    """Return the chance and the margin of every requirement as a table."""
    return _sent(service, _file(service, run, "margins.csv"), wanted)


@router.get(
    "/{run_id}/answers/{answer}",
    operation_id="get_answer",
    response_model=DriversResult | RareResult | SizingResult | SweepResult,
    responses={**PARTS, **KNOWN},
)
def get_answer(
    _caller: Reader,
    service: Serving,
    run: KnownRun,
    answer: Annotated[
        str,
        Path(
            pattern=r"^(drivers|rare|(sizing|sweep)-[1-9][0-9]?)$",
            description="`drivers`, `rare`, or `sizing-1`, `sweep-1` and so on, in the order asked for.",
        ),
    ],
    wanted: Part,
) -> Any:
    """Return a further answer that a run was asked for."""
    return _sent(service, _file(service, run, f"{answer}.json"), wanted)


@router.get("/{run_id}/files", operation_id="list_files", response_model=Files)
def list_files(_caller: Reader, service: Serving, run: KnownRun) -> Files:
    """List the files of a run; there are none before it has ended."""
    return Files.of(run.run_id, service.store.files(run.run_id))


@router.get(
    "/{run_id}/files/{name:path}",
    operation_id="get_file",
    response_class=Response,
    responses={
        **content(
            200,
            "The file.",
            "application/json",
            "text/html",
            "text/csv",
            "application/vnd.apache.parquet",
            "application/octet-stream",
            headers={"ETag": "Its SHA-256.", "Accept-Ranges": "Always `bytes`."},
        ),
        **PARTS,
        **KNOWN,
    },
)
def get_file(
    _caller: Reader,
    service: Serving,
    run: KnownRun,
    name: Annotated[str, Path(min_length=1, max_length=200, description="Name of a file, as the list has it.")],
    wanted: Part,
) -> Response:
    """Return a file of a run, or a range of its bytes."""
    return _sent(service, _file(service, run, name), wanted)


def _file(service: Service, run: RunRecord, name: str) -> FileRecord:
    found = next((each for each in service.store.files(run.run_id) if each.name == name), None)
    if found is not None:
        return found
    if not run.has_ended:
        raise Refusal(409, f"The run is {run.state}; there is nothing before it has ended.", headers=SOON)
    raise Refusal(404, f"The run is {run.state} and has no such file.")


def _sent(service: Service, file: FileRecord, wanted: Wanted) -> Response:
    """Send a file, or the part of it that is wanted."""
    tag = f'"{file.sha256}"'
    headers = {"ETag": tag, "Accept-Ranges": "bytes", "Cache-Control": "private, no-cache"}
    if is_known(wanted.if_none_match, tag):
        return Response(status_code=304, headers=headers)
    headers |= _safety(service, file)
    span = span_of(wanted.range, wanted.if_range, tag, file.size)
    start, stop = (0, file.size) if span is None else (span.start, span.stop)
    headers["Content-Length"] = str(stop - start)
    if span is not None:
        headers["Content-Range"] = span.content_range
    pieces = service.files.read(file.path, start, stop)
    return StreamingResponse(pieces, 200 if span is None else 206, headers, file.media_type)


def _safety(service: Service, file: FileRecord) -> Mapping[str, str]:
    """Return the headers under which a browser may show a file.

    A report brings scripts of its own. It says by their digests which may run; the header repeats that, and puts the
    page in a sandbox where it is a stranger to the service.
    """
    if not file.media_type.startswith("text/html"):
        last = file.name.rpartition("/")[2]
        return (
            {} if file.media_type == "application/json" else {"Content-Disposition": f'attachment; filename="{last}"'}
        )
    head = b"".join(service.files.read(file.path, 0, min(file.size, 4096))).decode("utf-8", "replace")
    found = POLICY.search(head)
    policy = NO_SCRIPT if found is None else html.unescape(found[1])
    return {"Content-Security-Policy": f"sandbox allow-scripts allow-downloads; {policy}; frame-ancestors 'none'"}
