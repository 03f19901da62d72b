"""The `report` verb: what a run's folder holds, once more in forms for a paper, a sheet or a spreadsheet."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from leadline.cli.exits import ExitCode, ends, talk
from leadline.cli.options import QuietOption
from leadline.errors import OutputError

if TYPE_CHECKING:
    from leadline.cli.reports import Reports
    from leadline.run.answer_files import Answers

__all__ = ["report"]

Maker = TypeVar("Maker")
Written = tuple[Path, str]
"""A file and the text that goes into it."""

RunFolder = Annotated[Path, typer.Argument(metavar="DIR", help="The folder of a run.", exists=True, file_okay=False)]
ShortOption = Annotated[
    Path | None, typer.Option("--short", metavar="FILE", help="Write the report on one page, HTML, to this file.")
]
TablesOption = Annotated[
    Path | None, typer.Option("--tables", metavar="DIR", help="Write every table as CSV into this folder.")
]
FiguresOption = Annotated[
    Path | None, typer.Option("--figures", metavar="DIR", help="Write every figure as SVG into this folder.")
]
ReplaceOption = Annotated[bool, typer.Option("--replace", help="Let files be replaced that are there already.")]


@ends
def report(
    context: typer.Context,
    folder: RunFolder,
    short: ShortOption = None,
    tables: TablesOption = None,
    figures: FiguresOption = None,
    replace: ReplaceOption = False,
    quiet: QuietOption = False,
) -> ExitCode:
    """Write the answers in a run's folder as a one-page report, as CSV tables or as SVG figures."""
    if short is None and tables is None and figures is None:
        raise typer.BadParameter("say what to write: --short FILE, --tables DIR, --figures DIR")
    answers = _answers(folder)
    parts = list(_parts(answers, context.obj, short, tables, figures))
    for path, _ in parts:
        _require_room(path, replace=replace)
    for path, text in parts:
        _write(path, text)
    if not quiet:
        places = ", ".join(str(place) for place in (short, tables, figures) if place is not None)
        talk(f"{len(parts)} {'file' if len(parts) == 1 else 'files'} written: {places}")
    return ExitCode.OK


def _answers(folder: Path) -> Answers:
    """Read what a folder holds about the study that was run there."""
    from leadline.run.answer_files import read_answers

    try:
        digest = json.loads((folder / "run.json").read_text(encoding="utf-8"))["digest"]
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise OutputError(f"the folder {folder} is not a run's; name the folder given to run --out") from error
    answers = read_answers(folder, digest)
    if not answers.every:
        raise OutputError(f"the folder {folder} holds no answer yet; finish a run there first")
    return answers


def _parts(
    answers: Answers, reports: Reports, short: Path | None, tables: Path | None, figures: Path | None
) -> Iterator[Written]:
    """Yield every file that is asked for with its text; nothing is written yet."""
    if short is not None:
        yield short, _maker(reports.short)(answers)
    if tables is not None:
        yield from ((tables / name, text) for name, text in _maker(reports.tables)(answers).items())
    if figures is not None:
        yield from ((figures / name, text) for name, text in _maker(reports.figures)(answers).items())


def _maker(given: Maker | None) -> Maker:
    if given is None:
        raise OutputError("nothing can be drawn here: pip install 'leadline[report]'")
    return given


def _require_room(path: Path, *, replace: bool) -> None:
    if path.is_dir():
        raise OutputError(f"{path} is a folder; name a file")
    if path.exists() and not replace:
        raise OutputError(f"{path} is there already; name another place, or add --replace")


def _write(path: Path, text: str) -> None:
    from leadline.run.whole_file import whole_file

    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"the folder {path.parent} cannot be made: {error.strerror}") from error
    with whole_file(path) as temporary:
        temporary.write_bytes(text.encode("utf-8"))  # a table's lines end in CR LF everywhere
