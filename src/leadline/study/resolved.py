"""The resolved study: everything written out in SI, and its digest."""

from __future__ import annotations

import json
from collections.abc import Mapping
from hashlib import sha256
from typing import Any, Final

from leadline.study.document import StudyDocument, kind_of
from leadline.study.model_legs import LEG_KINDS
from leadline.study.model_requirements import REQUIREMENT_KINDS

__all__ = ["canonical_json", "digest_of", "resolved"]

_REMARKS: Final = frozenset({"about", "sources", "notes", "option"})
"""What does not change any number of the answer, and so is no part of the digest."""


def resolved(document: StudyDocument) -> dict[str, Any]:
    """Write a settled document in SI with everything that was left unsaid.

    Reading it again gives the same mission, inputs and digest. Options are left out: it is
    one alternative with everything written out.
    """
    made: dict[str, Any] = document.model_dump(mode="json", by_alias=True, exclude_none=True, exclude={"options"})
    made["legs"] = [_kind_first(leg, LEG_KINDS) for leg in made["legs"]]
    made["requirements"] = {name: _kind_first(r, REQUIREMENT_KINDS) for name, r in made["requirements"].items()}
    return made


def digest_of(tree: Mapping[str, Any]) -> str:
    """Return the SHA-256 of a resolved study's canonical JSON, remarks left out."""
    content = {key: value for key, value in tree.items() if key not in _REMARKS}
    return sha256(canonical_json(content).encode()).hexdigest()


def canonical_json(tree: Mapping[str, Any]) -> str:
    """Write a tree as JSON in one way only: keys in order, no spaces, no NaN."""
    return json.dumps(tree, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def _kind_first(record: dict[str, Any], kinds: Mapping[str, Any]) -> dict[str, Any]:
    kind = kind_of(record, kinds)
    return record if kind is None else {kind: record[kind], **record}
