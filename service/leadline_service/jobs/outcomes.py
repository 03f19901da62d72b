"""Documents of a run as files, and what is said of them in listings."""

from __future__ import annotations

import csv
import io
import tempfile
from collections.abc import Callable, Mapping
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Final

from leadline.run.result import CompareResult, Quantile, Result
from leadline_service.files import FileFacts, Files, run_folder
from leadline_service.store.records import FileRecord

__all__ = ["Output", "margins_csv", "said_of"]

MEDIA_TYPES: Final[Mapping[str, str]] = {
    ".json": "application/json",
    ".csv": "text/csv; charset=utf-8",
    ".html": "text/html; charset=utf-8",
    ".parquet": "application/vnd.apache.parquet",
}
RESULT, COMPARISON, MARGINS, REPORT = "result.json", "comparison.json", "margins.csv", "report.html"


class Output:
    """Where one try of a run puts its files.

    Parameters
    ----------
    files
        The service's files.
    run_id, fence
        The lease: a try that was thought dead writes beside the one that took over, not over it.
    """

    def __init__(self, files: Files, run_id: str, fence: int) -> None:
        self._files = files
        self._folder = run_folder(run_id, fence)
        self._run_folder = run_folder(run_id)

    def put(self, name: str, data: bytes) -> FileRecord:
        """Write a file; raises as `leadline_service.files.Files.writing`."""
        path = f"{self._folder}/{name}"
        return self._record(name, path, self._files.write(path, data))

    def take(self, name: str, source: Path) -> FileRecord:
        """Write a file from one on this machine; raises as `put`."""
        path = f"{self._folder}/{name}"
        return self._record(name, path, self._files.take(path, source))

    def holds(self, record: FileRecord) -> bool:
        """Tell whether a file of an earlier try of this run is there, whole."""
        if not record.path.startswith(f"{self._run_folder}/") or not self._files.exists(record.path):
            return False
        return self._files.facts(record.path) == FileFacts(record.size, record.sha256)

    def clear(self) -> None:
        """Remove what this try has written."""
        self._files.delete(self._folder)

    def put_result(self, result: Result) -> tuple[FileRecord, ...]:
        """Write a result, its margins as a table and, where reports can be drawn here, its report."""
        written = (self.put(RESULT, result.to_json().encode()), self.put(MARGINS, margins_csv(result).encode()))
        return (*written, *self._report(lambda path: _draw(result, path)))

    def put_comparison(self, compared: CompareResult) -> tuple[FileRecord, ...]:
        """Write a comparison and, where reports can be drawn here, its report."""
        written = self.put(COMPARISON, compared.to_json().encode())
        return (written, *self._report(lambda path: _draw(compared, path)))

    def _report(self, write: Callable[[Path], None]) -> tuple[FileRecord, ...]:
        if not can_draw():
            return ()
        with tempfile.TemporaryDirectory(prefix="leadline-") as folder:
            path = Path(folder) / REPORT
            write(path)
            return (self.take(REPORT, path),)

    @staticmethod
    def _record(name: str, path: str, facts: FileFacts) -> FileRecord:
        return FileRecord(name, path, facts.size, facts.sha256, MEDIA_TYPES[Path(name).suffix])


@lru_cache(maxsize=1)
def can_draw() -> bool:
    """Tell whether what reports are drawn with is installed."""
    return all(find_spec(name) is not None for name in ("jinja2", "plotly"))


def _draw(document: Result | CompareResult, path: Path) -> None:
    from leadline.report import write_compare_report, write_report  # noqa: PLC0415 - slow to import, and optional

    if isinstance(document, Result):
        write_report(document, path)
    else:
        write_compare_report(document, path)


def margins_csv(result: Result) -> str:
    """Return the margins of a result as a table: one line a requirement, numbers in SI units."""
    quantiles = [f"p{100 * each.p:g}" for each in _margin_quantiles(result)]
    head = ["requirement", "kind", "unit", "chance", "chance_low", "chance_high", "mean", "sd", "low", "high"]
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow([*head, *quantiles])
    for row in result.requirements:
        chance, margin = row.chance, row.margin
        cells: list[float | str] = [""] * (4 + len(quantiles))
        if margin is not None:
            cells = [margin.mean, margin.sd, margin.low, margin.high, *(each.value for each in margin.quantiles)]
        table.writerow([row.name, row.kind, row.unit, chance.value, chance.low, chance.high, *cells])
    return text.getvalue()


def _margin_quantiles(result: Result) -> tuple[Quantile, ...]:
    return next((row.margin.quantiles for row in result.requirements if row.margin is not None), ())


def said_of(document: Result | CompareResult, answers: list[dict[str, Any]]) -> dict[str, Any]:
    """Return what is said of an outcome in listings.

    Parameters
    ----------
    document
        The result or comparison.
    answers
        Of each further answer: its kind, its file or None, and why it failed or None.
    """
    said: dict[str, Any] = {
        "kind": document.kind,
        "study": document.study.model_dump(mode="json"),
        "partial": document.partial,
        "sentence": document.sentence,
        "answers": answers,
    }
    if isinstance(document, CompareResult):
        rows = [{"name": row.name, "chance": row.chance.model_dump(mode="json")} for row in document.options]
        return said | {"cases": document.options[0].cases.model_dump(mode="json"), "options": rows}
    about = {"cases": document.cases, "chance": document.chance, "judgement": document.judgement}
    return said | {name: part.model_dump(mode="json") for name, part in about.items()}
