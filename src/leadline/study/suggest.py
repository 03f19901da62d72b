"""Sentences that name what was probably meant, and what may be written."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches
from typing import Final

__all__ = ["closest", "listed", "meant"]

_MOST_LISTED: Final = 12
_LONGEST: Final = 60


def closest(given: str, known: Iterable[str]) -> str | None:
    """Find the known word most like the one given; None where none is like it."""
    words = list(known)
    folded = {word.casefold(): word for word in reversed(words)}
    found = get_close_matches(given.casefold()[:_LONGEST], folded, n=1, cutoff=0.6)
    if found:
        return folded[found[0]]
    endings = [word for word in words if word.rpartition(".")[2].casefold() == given.rpartition(".")[2].casefold()]
    return endings[0] if endings else None


def listed(words: Iterable[str]) -> str:
    """List words for a sentence, the first dozen of them."""
    known = [shortened(word) for word in words]
    more = f" and {len(known) - _MOST_LISTED} more" if len(known) > _MOST_LISTED else ""
    return ", ".join(known[:_MOST_LISTED]) + more if known else "none"


def meant(given: str, known: Iterable[str], what: str) -> str:
    """Say what was probably meant and what may be written, as a remedy.

    Parameters
    ----------
    given
        The word that is not known.
    known
        Words that are.
    what
        Their common name in the plural, such as ``Tanks``.
    """
    words = list(known)
    near = closest(given, words)
    question = "" if near is None else f'Did you mean "{shortened(near)}"? '
    return f"{question}{what}: {listed(words)}."


def shortened(word: str) -> str:
    """Cut a word that is too long for a sentence."""
    return word if len(word) <= _LONGEST else word[: _LONGEST - 3] + "..."
