"""The folder of a comparison: its document and its report."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from leadline.errors import OutputError
from leadline.run.result import CompareResult
from leadline.run.whole_file import whole_file

__all__ = ["COMPARISON", "REPORT", "put_comparison", "require_room"]

COMPARISON, REPORT = "comparison.json", "comparison.html"


def require_room(folder: Path, *, replace: bool) -> None:
    """Refuse a folder that holds a comparison already, unless told to replace it.

    Raises
    ------
    OutputError
        It does, or it is no folder.
    """
    if folder.exists() and not folder.is_dir():
        raise OutputError(f"{folder} is a file; name a folder")
    if (folder / COMPARISON).exists() and not replace:
        raise OutputError(f"the folder {folder} holds a comparison; name another folder, or add --replace")


def put_comparison(
    folder: Path, compared: CompareResult, write_report: Callable[[CompareResult, Path], None] | None
) -> None:
    """Write a comparison, and its report where there is a writer.

    Raises
    ------
    OutputError
        They cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"the folder {folder} cannot be made: {error.strerror}") from error
    with whole_file(folder / COMPARISON) as temporary:
        temporary.write_text(compared.to_json(), encoding="utf-8")
    if write_report is not None:
        with whole_file(folder / REPORT) as temporary:
            write_report(compared, temporary)
