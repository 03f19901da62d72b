"""The `leadline` program: the command line and the report writers put together."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from leadline.cli.application import run_command_line
from leadline.cli.reports import Reports

if TYPE_CHECKING:
    from leadline.run.answer_files import Answers
    from leadline.run.result import CompareResult

__all__ = ["main"]


def _write_answers(answers: Answers, path: Path) -> None:
    from leadline.report import write_report

    write_report(answers, path)


def _write_comparison(compared: CompareResult, path: Path) -> None:
    from leadline.report import write_compare_report

    write_compare_report(compared, path)


def _short(answers: Answers) -> str:
    from leadline.report.short_page import render_short_report

    return render_short_report(answers)


def _tables(answers: Answers) -> dict[str, str]:
    from leadline.report.tables import table_files

    return table_files(answers)


def _figures(answers: Answers) -> dict[str, str]:
    from leadline.report.vector import drawing_files

    return drawing_files(answers)


def main() -> None:
    """Run the command line."""
    can_draw = all(find_spec(name) is not None for name in ("jinja2", "plotly"))
    run_command_line(
        Reports(
            result=_write_answers if can_draw else None,
            comparison=_write_comparison if can_draw else None,
            short=_short,  # these three take no plotly
            tables=_tables,
            figures=_figures,
        )
    )


if __name__ == "__main__":
    main()
