"""Cursors of listings: where a page ended, written so that nobody takes them for something to be made up."""

from __future__ import annotations

import base64
import binascii
import json

from leadline_service.identifiers import canonical_json, digest_of
from leadline_service.store.errors import BadCursor

__all__ = ["cursor_after", "position_in"]


def cursor_after(listing: object, position: str) -> str:
    """Return the cursor for what comes after a position in a listing.

    Parameters
    ----------
    listing
        What is listed, with its filters, as JSON.
    position
        Where the page ended.
    """
    text = canonical_json([_mark(listing), position])
    return base64.urlsafe_b64encode(text.encode()).decode().rstrip("=")


def position_in(listing: object, cursor: str) -> str:
    """Return the position that a cursor of this listing holds.

    Raises
    ------
    BadCursor
        It is none of ours, or of another listing.
    """
    try:
        padded = cursor.encode("ascii") + b"=" * (-len(cursor) % 4)
        mark, position = json.loads(base64.b64decode(padded, altchars=b"-_", validate=True))
    except (ValueError, TypeError, binascii.Error, RecursionError) as error:
        raise BadCursor from error
    if mark != _mark(listing) or not isinstance(position, str) or not (position.isascii() and position.isprintable()):
        raise BadCursor
    return position


def _mark(listing: object) -> str:
    return digest_of(listing)[:12]
