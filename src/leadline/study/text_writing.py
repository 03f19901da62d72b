"""Values written as a study writes them: plain where that reads back the same, quoted where not."""

from __future__ import annotations

import json
import math
import re
from typing import Final

from leadline.study.places import Tree
from leadline.study.reading import scalar

__all__ = ["as_block", "as_flow", "as_json", "key_text", "wants_block"]

_PLAIN: Final = re.compile(
    r"[A-Za-z0-9_+./(\u00c0-\u024f-]"
    r"(?:[^:#,\[\]{}&*!|>\"%@`\x00-\x1f\x7f-\x9f\u2028\u2029\ufeff]|%|:(?=[^\s:,\[\]{}]))*"
)
_UNWRITABLE: Final = re.compile("[\x7f-\x9f\u2028\u2029\ufeff]")
_INLINE: Final = 96
"""A mapping or list is written on one line up to this length."""


def as_flow(value: Tree) -> str:
    """Write a value on one line.

    Raises
    ------
    ValueError
        A number that is not finite.
    """
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key_text(key)}: {as_flow(inner)}" for key, inner in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(as_flow, value)) + "]"
    return _text(value) if isinstance(value, str) else _bare(value)


def as_json(value: Tree) -> str:
    """Write a value as JSON on one line; errors as `as_flow`."""
    return _escaped(json.dumps(value, ensure_ascii=False, allow_nan=False))


def wants_block(value: Tree) -> bool:
    """Tell whether a value is better written over lines: what is long, and what holds more than numbers and laws."""
    if not isinstance(value, dict | list) or not value:
        return False
    return _depth(value) > 2 or len(as_flow(value)) > _INLINE


def as_block(value: Tree) -> list[str]:
    """Write a mapping or a list over lines, which stand at the left edge."""
    lines: list[str] = []
    if isinstance(value, dict):
        for key, inner in value.items():
            lines += [f"{key_text(key)}: {as_flow(inner)}"] if not wants_block(inner) else _below(key, inner)
    elif isinstance(value, list):
        for inner in value:
            lines += _item(inner)
    return lines


def _below(key: str, value: Tree) -> list[str]:
    return [f"{key_text(key)}:", *(f"  {line}" for line in as_block(value))]


def _item(value: Tree) -> list[str]:
    first, *rest = as_block(value) if wants_block(value) else [as_flow(value)]
    return [f"- {first}", *(f"  {line}" for line in rest)]


def key_text(key: str) -> str:
    """Write a key."""
    return key if _is_plain(key) else _quoted(key)


def _text(value: str) -> str:
    return value if _is_plain(value) and scalar(value) == value else _quoted(value)


def _is_plain(text: str) -> bool:
    dashed = text.startswith(("- ", "---", "...")) or text == "-"
    return bool(_PLAIN.fullmatch(text)) and not dashed and not text.endswith(" ") and "?" not in text[:1]


def _quoted(text: str) -> str:
    return _escaped(json.dumps(text, ensure_ascii=False))


def _escaped(written: str) -> str:
    return _UNWRITABLE.sub(lambda found: f"\\u{ord(found[0]):04x}", written)


def _bare(value: float | None) -> str:
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if not math.isfinite(value):
        raise ValueError(f"{value} is no number a study can hold")
    return repr(value)


def _depth(value: Tree) -> int:
    inside = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return 1 + max(map(_depth, inside), default=0) if isinstance(value, dict | list) else 0
