"""Pages of a listing, linked to one another (RFC 8288)."""

from __future__ import annotations

from urllib.parse import urlencode

from starlette.responses import Response

__all__ = ["link_next"]


def link_next(response: Response, address: str, cursor: str | None, **parameters: object) -> None:
    """Name the page that follows in the Link header, where there is one.

    Parameters
    ----------
    response
        The answer with this page.
    address
        Of the listing.
    cursor
        Where the page that follows begins; None at the end.
    parameters
        Of the listing; None for those left out.
    """
    if cursor is not None:
        given = {name: str(value) for name, value in parameters.items() if value is not None}
        response.headers["Link"] = f'<{address}?{urlencode({**given, "cursor": cursor})}>; rel="next"'
