"""A study's text edited at a place, for guided forms beside it."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.concurrency import run_in_threadpool

from leadline_service.bodies import json_body
from leadline_service.dependencies import Reader
from leadline_service.description import GUARDED, body_of, problems
from leadline_service.edits import EditRequest, EditResult, edited

__all__ = ["router"]

router = APIRouter(prefix="/v1", tags=["studies"], responses={**GUARDED, **problems(422)})


@router.post("/edit", operation_id="edit_study", openapi_extra=body_of(EditRequest))
async def edit_study(_caller: Reader, request: Annotated[EditRequest, Depends(json_body(EditRequest))]) -> EditResult:
    """Edit a study's text: one value replaced, added, moved, renamed or taken out; comments and order stay.

    The text is read and looked over as well; without edits that is all.
    """
    return await run_in_threadpool(edited, request)
