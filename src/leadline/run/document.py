"""What every document a run hands over is made of."""

from __future__ import annotations

from typing import Self

from pydantic import BaseModel, ConfigDict

__all__ = ["Chance", "Document", "StudyLabel"]


class Document(BaseModel):
    """A frozen piece of a document that refuses unknown keys and numbers that are not finite."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    def to_json(self) -> str:
        """Return the document as indented JSON text ending in a line break."""
        return self.model_dump_json(indent=2) + "\n"

    @classmethod
    def from_json(cls, text: str | bytes) -> Self:
        """Read the document back; `to_json` of it gives the same text."""
        return cls.model_validate_json(text)


class StudyLabel(Document):
    """Which study was computed; `option` is None for the base study."""

    title: str
    digest: str
    option: str | None = None


class Chance(Document):
    """A probability with its interval; `method` names the rule in words."""

    value: float
    low: float
    high: float
    confidence: float
    method: str
