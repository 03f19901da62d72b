"""What every part of the document has in common, and the texts in it."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Annotated, Any, Final

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from leadline.study import limits
from leadline.study.pydantic_errors import carried
from leadline.study.suggest import shortened

__all__ = ["Name", "Note", "Record", "Reference", "Title", "field"]


class Record(BaseModel):
    """A mapping with known keys; refuses others, never changes."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, arbitrary_types_allowed=True)


_UNUSABLE: Final = re.compile(r"[.=\x00-\x1f\x7f\u2028\u2029]")


def _name(given: str) -> str:
    remedy = f"Write 1 to {limits.NAME_LENGTH} characters without dots, equal signs and line ends."
    if not given.strip() or len(given) > limits.NAME_LENGTH:
        raise carried("name", f'"{shortened(given)}" has {len(given.strip())} characters.', remedy)
    if given != given.strip():
        raise carried("name", f'"{given}" begins or ends with a space.', "Take the space away.")
    if _UNUSABLE.search(given):
        raise carried("name", f'"{given}" has a character that names may not have.', remedy)
    return given


def _at_most(length: int) -> Callable[[str], str]:
    def check(given: str) -> str:
        if not given.strip() or len(given) > length:
            message = f"This text has {len(given.strip())} characters."
            raise carried("text", message, f"Write 1 to {length} characters.")
        return given

    return check


Name = Annotated[str, AfterValidator(_name), Field(json_schema_extra={"minLength": 1, "maxLength": limits.NAME_LENGTH})]
"""The name of an element, tank, engine, leg, requirement or option."""

Reference = Annotated[str, AfterValidator(_at_most(3 * limits.NAME_LENGTH))]
"""The name of something that stands elsewhere in the study."""

Title = Annotated[str, AfterValidator(_at_most(limits.TITLE_LENGTH))]
Note = Annotated[str, AfterValidator(_at_most(limits.NOTE_LENGTH))]


def field(description: str, example: str, **given: Any) -> Any:
    """Describe a field of a record; the example is what a remedy shows."""
    return Field(description=description, examples=[example], **given)
