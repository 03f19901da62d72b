"""A law as a line of text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pydantic import JsonValue

from leadline.report.wording import amount, clipped, count

__all__ = ["law_text"]

MOST_VALUES = 6


def law_text(law: Mapping[str, JsonValue]) -> str:
    """Return a law's kind and parameters in words, such as ``normal, mean 447, sd 1.6``."""
    kind = str(law.get("law", "unknown law"))
    parts = [f"{key} {_shown(value)}" for key, value in law.items() if key != "law"]
    return ", ".join((kind, *parts))


def _shown(value: JsonValue) -> str:
    if isinstance(value, Mapping):
        return f"({law_text(value)})"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return _listed(value)
    if isinstance(value, float):
        return amount(value, "", 6)
    return clipped(str(value), 80)


def _listed(values: Sequence[JsonValue]) -> str:
    shown = ", ".join(_shown(value) for value in values[:MOST_VALUES])
    rest = len(values) - MOST_VALUES
    return f"[{shown}, and {count(rest)} more]" if rest > 0 else f"[{shown}]"
