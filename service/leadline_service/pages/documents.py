"""The reference and the how-tos."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import HTMLResponse

from leadline_service.access import Caller
from leadline_service.dependencies import Serving, caller_of
from leadline_service.pages.how_to_texts import how_tos
from leadline_service.pages.reference import anchor, parts
from leadline_service.pages.reference_tables import tables, unit_rows
from leadline_service.pages.rendering import page
from leadline_service.refusals import Refusal
from leadline_service.tokens import Role

__all__ = ["Visitor", "router"]

router = APIRouter(include_in_schema=False)


def _visitor(request: Request, service: Serving) -> Caller:
    """Return who looks at a page; every page takes a token that may read."""
    return caller_of(request, service, Role.READ)


Visitor = Annotated[Caller, Depends(_visitor)]


@router.get("/reference")
def reference(caller: Visitor) -> HTMLResponse:
    """Show everything a study may say."""
    return page(
        "reference",
        title="Reference",
        here="/reference",
        caller=caller,
        sections=parts(),
        tables=tables(),
        units=unit_rows(),
        anchor=anchor,
    )


@router.get("/how-to")
def contents(caller: Visitor) -> HTMLResponse:
    """List the how-tos."""
    return page("how-to-list", title="How to", here="/how-to", caller=caller, texts=how_tos())


@router.get("/how-to/{name}")
def how_to(caller: Visitor, name: str) -> HTMLResponse:
    """Show a how-to."""
    text = next((one for one in how_tos() if one.name == name), None)
    if text is None:
        raise Refusal(404)
    return page("how-to", title=text.title, here=f"/how-to/{name}", caller=caller, text=text)
