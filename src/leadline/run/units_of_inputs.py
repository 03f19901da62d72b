"""The SI unit of every dispersed number, as the resolved study writes it."""

from __future__ import annotations

from typing import Any

from leadline.study import Study

__all__ = ["units_of_inputs"]


def units_of_inputs(study: Study) -> dict[str, str]:
    """Return the SI unit of each input by its name; empty for fractions and ratios."""
    document = study.resolved()
    return {each.name: _unit(_at(document, each.name)) for each in study.inputs}


def _at(document: Any, name: str) -> Any:
    """Follow a name from the top of the document; legs are found by theirs."""
    here = document
    for step in name.split("."):
        here = _leg(here, step) if isinstance(here, list) else here[step]
    return here


def _leg(legs: list[dict[str, Any]], name: str) -> dict[str, Any]:
    """Find a leg by its name, which stands first in it, under the leg's kind."""
    return next(leg for leg in legs if next(iter(leg.values())) == name)


def _unit(law: Any) -> str:
    """Take the unit from a law's first quantity, such as ``18400.0 kg``, or from what it says of its data."""
    if isinstance(law, list):  # a window of dates, of which a part is drawn
        return ""
    if "unit" in law:
        return str(law["unit"])
    texts = [value.partition(" ") for key, value in law.items() if key != "law" and isinstance(value, str)]
    return next((unit for _, _, unit in texts if unit), "")
