"""Studies to begin with, out of the package."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final

from leadline.study.reading import read
from leadline_service.refusals import Refusal

__all__ = ["Demo", "demo", "demos"]

PLACES: Final = (Path(__file__).parent / "demo_studies", Path(__file__).parents[3] / "studies")
"""Where they lie in an installed package, and in the sources."""
FIRST: Final = ("tern-first-look", "tern")


@dataclass(frozen=True, slots=True)
class Demo:
    """A study to begin with."""

    name: str
    title: str
    text: str


@lru_cache(maxsize=1)
def demos() -> tuple[Demo, ...]:
    """Return every one, those to look at first in front."""
    folder = next((place for place in PLACES if place.is_dir()), None)
    found = [] if folder is None else [_demo(path) for path in sorted(folder.glob("*.yaml"))]
    return tuple(sorted(found, key=lambda one: FIRST.index(one.name) if one.name in FIRST else len(FIRST)))


def demo(name: str) -> Demo:
    """Return the one of a name.

    Raises
    ------
    Refusal
        There is none; 404.
    """
    found = next((one for one in demos() if one.name == name), None)
    if found is None:
        raise Refusal(404, "There is no such study to begin with.")
    return found


def _demo(path: Path) -> Demo:
    text = path.read_text(encoding="utf-8")
    return Demo(path.stem, str(read(text).tree.get("title", path.stem)), text)
