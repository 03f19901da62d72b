"""The SI unit of every dispersed number, as the resolved study writes it."""

from __future__ import annotations

from typing import Any, Final

from leadline.study import Study

__all__ = ["found_at", "unit_of", "units_of_inputs"]

_WORDS: Final = frozenset({"law", "practice", "kind"})
"""Members of a law that are words and no quantities."""


def units_of_inputs(study: Study) -> dict[str, str]:
    """Return the SI unit of each input by its name; empty for fractions and ratios."""
    document = study.resolved()
    return {each.name: unit_of(found_at(document, each.name)) for each in study.inputs}


def found_at(document: Any, name: str) -> Any:
    """Follow a name from the top of the document; legs are found by theirs. What follows # is no place.

    None for a draw that no written number stands for, such as that of an ignition.
    """
    here = document
    place, drawn, _ = name.partition("#")
    for step in place.split("."):
        if drawn and isinstance(here, dict) and step not in here:
            return None
        here = _leg(here, step) if isinstance(here, list) else here[step]
    return here


def _leg(legs: list[dict[str, Any]], name: str) -> dict[str, Any]:
    """Find a leg by its name, which stands first in it, under the leg's kind."""
    return next(leg for leg in legs if next(iter(leg.values())) == name)


def unit_of(law: Any) -> str:
    """Take the unit from a law's first quantity, such as ``18400.0 kg``, or from what it says of its data."""
    if not isinstance(law, dict):  # a window of dates, of which a part is drawn, or a chance
        return ""
    if "unit" in law:
        return str(law["unit"])
    quantities = {key: value for key, value in law.items() if key not in _WORDS and isinstance(value, str)}
    texts = [value.partition(" ") for value in quantities.values()]
    return next((unit for _, _, unit in texts if unit), "")
