"""Conditional and partial requests: entity tags, and ranges of bytes (RFC 9110, sections 13 and 14)."""

from __future__ import annotations

import re
from dataclasses import dataclass

from leadline_service.refusals import Refusal

__all__ = ["Span", "is_known", "span_of"]

RANGE = re.compile(r"bytes\s*=\s*(\d*)\s*-\s*(\d*)\s*", re.IGNORECASE)


def is_known(header: str | None, tag: str) -> bool:
    """Tell whether an If-None-Match header names an entity tag (weak comparison)."""
    if header is None:
        return False
    given = [part.strip().removeprefix("W/") for part in header.split(",")]
    return "*" in given or tag in given


@dataclass(frozen=True, slots=True)
class Span:
    """Bytes from `start` up to but not with `stop`, of `size` in all."""

    start: int
    stop: int
    size: int

    @property
    def is_part(self) -> bool:
        """Whether it was asked for by a range."""
        return self.stop - self.start < self.size

    @property
    def content_range(self) -> str:
        """The value of Content-Range."""
        return f"bytes {self.start}-{self.stop - 1}/{self.size}"


def span_of(header: str | None, if_range: str | None, tag: str, size: int) -> Span | None:
    """Return the bytes a Range header asks for; None for the whole.

    More than one range, another unit and what cannot be read are let be, as the standard has it; so is a range of a
    file that is not the one the caller has a part of.

    Raises
    ------
    Refusal
        No byte of the file is asked for; 416.
    """
    found = None if header is None else RANGE.fullmatch(header.strip())
    if found is None or (if_range is not None and if_range.strip() != tag):
        return None
    first, last = found.groups()
    if (not first and not last) or len(first) > 18 or len(last) > 18 or (first and last and int(first) > int(last)):
        return None
    start = int(first) if first else max(0, size - int(last))
    stop = min(size, int(last) + 1) if first and last else size
    if start >= stop:
        raise Refusal(416, "The file ends before that range.", headers={"Content-Range": f"bytes */{size}"})
    return Span(start, stop, size)
