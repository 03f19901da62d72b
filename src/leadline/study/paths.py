"""The one language for places in a study: keys from the top, joined by dots.

A leg and a requirement is addressed by its name. ``vehicle.`` may be left out:
``tern.dry_mass`` is ``vehicle.tern.dry_mass``.
"""

from __future__ import annotations

from typing import Final

from leadline.study.document import StudyDocument

__all__ = ["full_path", "steps_of"]

_TOP: Final = frozenset(StudyDocument.model_fields)


def steps_of(path: str) -> tuple[str, ...]:
    """Cut a path into its keys, from the top of the study."""
    steps = tuple(path.strip().split("."))
    return steps if steps[0] in _TOP else ("vehicle", *steps)


def full_path(path: str) -> str:
    """Write a path with everything that may be left out."""
    return ".".join(steps_of(path))
