"""The figures of a run, for pages that draw them themselves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fastapi import APIRouter, Response
from pydantic import JsonValue

from leadline_service.conditional import is_known
from leadline_service.dependencies import IfNoneMatch, KnownRun, Reader, Serving
from leadline_service.description import GUARDED, content, problems
from leadline_service.findings import findings_of, tag_of
from leadline_service.problems import SOON
from leadline_service.refusals import Refusal
from leadline_service.schemas import Wire

__all__ = ["Figures", "router"]

router = APIRouter(prefix="/v1/runs", tags=["results"], responses={**GUARDED, **problems(404, 409, 422)})


class FigureCell(Wire):
    """A cell of a figure's table: what is shown, and the number behind it in SI where there is one."""

    text: str
    value: float | None


class FigureTable(Wire):
    """What a figure shows, as numbers; the first column names the row."""

    headers: tuple[str, ...]
    rows: tuple[tuple[FigureCell, ...], ...]


class Figure(Wire):
    """A figure: its name, the id of its element, its title, what it shows in a sentence, its drawing and its table.

    The drawing is what plotly.js takes; colours are named by role, such as ``@ink``.
    """

    name: str
    id: str
    title: str
    sentence: str
    height: int
    spec: dict[str, JsonValue]
    table: FigureTable


class Figures(Wire):
    """The figures of a run in the report's order, and how plotly.js is to behave."""

    config: dict[str, JsonValue]
    figures: tuple[Figure, ...]


@router.get(
    "/{run_id}/figures", operation_id="get_figures", response_model=Figures, responses=content(304, "Known already.")
)
def get_figures(
    _caller: Reader, service: Serving, run: KnownRun, response: Response, if_none_match: IfNoneMatch = None
) -> Any:
    """Return the report's figures: drawings, sentences, tables."""
    headers = {"ETag": tag_of(service, run), "Cache-Control": "private, no-cache"}
    if is_known(if_none_match, headers["ETag"]):
        return Response(status_code=304, headers=headers)
    findings = findings_of(service, run)
    if findings is None:
        if not run.has_ended:
            raise Refusal(409, f"The run is {run.state}; there is nothing before it has ended.", headers=SOON)
        raise Refusal(404, f"The run is {run.state} and has no figures.")
    from leadline.report.panel import CONFIG, Panel  # noqa: PLC0415 - the report is an extra
    from leadline.report.registry import panels  # noqa: PLC0415

    response.headers.update(headers)
    found: Sequence[Panel] = panels(findings)
    return Figures(config=CONFIG, figures=tuple(_figure(panel) for panel in found))


def _figure(panel: Any) -> Figure:
    rows = tuple(tuple(FigureCell(text=cell.text, value=cell.value) for cell in row) for row in panel.table.rows)
    return Figure(
        name=panel.name,
        id=panel.div_id,
        title=panel.title,
        sentence=panel.sentence,
        height=panel.height_px,
        spec=panel.spec,
        table=FigureTable(headers=panel.table.headers, rows=rows),
    )
