"""A page made from its template, under a policy that lets nothing in from elsewhere and no script stand in it."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.responses import HTMLResponse

from leadline.report.page import CAUTION
from leadline.report.page import HERE as REPORT
from leadline.report.wording import clipped, plain, unbroken
from leadline_service.access import LOCAL, Caller
from leadline_service.pages.glossary import Glossary
from leadline_service.pages.static_files import address_of, plotly_address, plotly_styles

__all__ = ["HEADERS", "page"]

POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS: Final[Mapping[str, str]] = {"Content-Security-Policy": POLICY, "Cache-Control": "private, no-cache"}
SCREENS: Final = (
    ("/", "Studies and runs"),
    ("/studies/new", "Write"),
    ("/reference", "Reference"),
    ("/how-to", "How to"),
)


def page(
    template: str,
    *,
    title: str,
    here: str,
    caller: Caller | None,
    status: int = 200,
    **context: Any,
) -> HTMLResponse:
    """Return a page.

    Parameters
    ----------
    template
        Name of its template, without the endings.
    title
        What the browser calls it.
    here
        The address the navigation shows as the current one.
    caller
        Who asks; None where that is not known yet.
    status
        HTTP status code.
    context
        What else the template reads; all text is escaped there.
    """
    html = (
        _environment()
        .get_template(f"{template}.html.j2")
        .render(
            title=title,
            here=here,
            screens=SCREENS,
            signed=caller is not None,
            caller=None if caller is None or caller.name == LOCAL else caller.name,
            role="" if caller is None else caller.role.value,
            caution=CAUTION,
            glossary=Glossary(),
            status=status,
            **context,
        )
    )
    return HTMLResponse(html, status, HEADERS)


@lru_cache(maxsize=1)
def _environment() -> Environment:
    folders = [Path(__file__).parent / "templates", REPORT / "templates"]
    environment = Environment(
        loader=FileSystemLoader(folders),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(clipped=clipped, plain=plain, unbroken=unbroken)
    environment.globals.update(asset=address_of, plotly=plotly_address(), plotly_styles=plotly_styles())
    return environment
