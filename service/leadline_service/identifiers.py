"""Every identifier of the service, made and parsed.

| of what | looks like | made of |
|---|---|---|
| run | ``run_`` and 26 signs | 48 bits of milliseconds since 1970, 80 random bits: sorts by time |
| study content | 64 hexadecimal digits | SHA-256 of the text's UTF-8 bytes |
| study name | ``tern-to-outpost`` | chosen by a caller |
| token | ``tok_`` and 16 signs | 80 random bits |
| event | ``17`` | its number within its run |

Signs are Crockford's base 32 in lower case: no i, l, o or u; read back, I and L are 1 and O is 0.
"""

from __future__ import annotations

import hashlib
import json
import re
import secrets
from datetime import datetime, timedelta
from typing import Any

from leadline.errors import LeadlineError
from leadline_service.clock import EPOCH, from_microseconds

__all__ = [
    "BadIdentifier",
    "canonical_json",
    "content_id",
    "digest_of",
    "event_id",
    "is_content_id",
    "new_run_id",
    "new_token_id",
    "parse_content_id",
    "parse_event_id",
    "parse_run_id",
    "parse_study_name",
    "parse_token_id",
    "time_of_run",
    "written",
]

SIGNS = "0123456789abcdefghjkmnpqrstvwxyz"
ALIKE = str.maketrans({"i": "1", "l": "1", "o": "0"})
RUN, RUN_SIGNS = "run_", 26
TOKEN, TOKEN_BYTES, TOKEN_SIGNS = "tok_", 10, 16
STUDY_NAME = re.compile(r"[a-z0-9]([a-z0-9._-]{0,98}[a-z0-9])?")
MOST_EVENTS = 2**63 - 1


class BadIdentifier(LeadlineError):
    """A text is no identifier of the kind wanted.

    Parameters
    ----------
    kind
        Of what.
    text
        What was given.
    remedy
        What it must look like.
    """

    def __init__(self, kind: str, text: str, remedy: str) -> None:
        self.kind, self.text, self.remedy = kind, text, remedy
        super().__init__(f"{text[:100]!r} is no {kind}: it must be {remedy}")


def new_run_id(now: datetime) -> str:
    """Return a new run identifier that sorts by `now`, to the millisecond."""
    milliseconds = (now - EPOCH) // timedelta(milliseconds=1)
    return RUN + written(milliseconds.to_bytes(6) + secrets.token_bytes(10))


def parse_run_id(text: str) -> str:
    """Return a run identifier as it is written here.

    Raises
    ------
    BadIdentifier
        It is none.
    """
    signs = _signs(text, RUN)
    # 26 signs carry 130 bits, so the first of them is at most 7.
    if signs is None or len(signs) != RUN_SIGNS or signs[0] > "7":
        raise BadIdentifier("run identifier", text, "run_ and 26 digits and letters")
    return RUN + signs


def time_of_run(run_id: str) -> datetime:
    """Return when a run identifier was made, to the millisecond."""
    number = 0
    for sign in parse_run_id(run_id).removeprefix(RUN):
        number = number * 32 + SIGNS.index(sign)
    return from_microseconds((number >> 80) * 1000)


def content_id(text: str) -> str:
    """Return the identifier of a study's text: SHA-256 of its UTF-8 bytes."""
    return hashlib.sha256(text.encode()).hexdigest()


def is_content_id(text: str) -> bool:
    """Tell whether a text can be a content identifier; no study name can."""
    return re.fullmatch(r"[0-9a-f]{64}", text) is not None


def parse_content_id(text: str) -> str:
    """Return a content identifier.

    Raises
    ------
    BadIdentifier
        It is none.
    """
    if not is_content_id(text.lower()):
        raise BadIdentifier("content identifier", text, "64 hexadecimal digits")
    return text.lower()


def parse_study_name(text: str) -> str:
    """Return the name of a study.

    Raises
    ------
    BadIdentifier
        It is none, or could be mistaken for a content identifier.
    """
    if STUDY_NAME.fullmatch(text) is None or is_content_id(text):
        remedy = "1 to 100 of a-z, 0-9, dot, dash and underscore, with a letter or digit at both ends"
        raise BadIdentifier("study name", text, remedy)
    return text


def new_token_id() -> str:
    """Return a new token identifier; it is no secret."""
    return TOKEN + written(secrets.token_bytes(TOKEN_BYTES))


def parse_token_id(text: str) -> str:
    """Return a token identifier as it is written here.

    Raises
    ------
    BadIdentifier
        It is none.
    """
    signs = _signs(text, TOKEN)
    if signs is None or len(signs) != TOKEN_SIGNS:
        raise BadIdentifier("token identifier", text, "tok_ and 16 digits and letters")
    return TOKEN + signs


def event_id(number: int) -> str:
    """Return how an event's number is written in a stream."""
    return str(number)


def parse_event_id(text: str) -> int:
    """Return an event's number.

    Raises
    ------
    BadIdentifier
        It is none.
    """
    if not (text.isascii() and text.isdecimal() and len(text) < 20 and int(text) <= MOST_EVENTS):
        raise BadIdentifier("event identifier", text, "a whole number as the stream gave it")
    return int(text)


def canonical_json(document: Any) -> str:
    """Return a document as JSON that is the same for equal documents: keys sorted, no blanks, no NaN, ASCII only.

    Being ASCII, it holds any text that JSON can: zero characters and halves of pairs too, which no database takes.

    Raises
    ------
    ValueError
        It holds a number that JSON has no word for.
    """
    return json.dumps(document, sort_keys=True, separators=(",", ":"), allow_nan=False)


def digest_of(document: Any) -> str:
    """Return SHA-256, in hexadecimal, of a document's canonical JSON."""
    return hashlib.sha256(canonical_json(document).encode()).hexdigest()


def written(data: bytes) -> str:
    """Return bytes as base 32 signs, as one number with the highest sign first."""
    number, count = int.from_bytes(data), -(-len(data) * 8 // 5)
    return "".join(SIGNS[number >> 5 * place & 31] for place in reversed(range(count)))


def _signs(text: str, prefix: str) -> str | None:
    """Return the base 32 signs that follow a prefix, as they are written here; None where there are others."""
    lower = text.lower() if text.isascii() else ""
    signs = lower.removeprefix(prefix).translate(ALIKE)
    return signs if lower.startswith(prefix) and set(signs) <= set(SIGNS) else None
