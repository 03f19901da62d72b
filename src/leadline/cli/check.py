"""The `check` verb: what the study says, and its case at the median of every input."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from leadline.cli.exits import ExitCode, ends
from leadline.cli.options import JsonOption, OptionOption, SetOption, StudyFile, study_of

if TYPE_CHECKING:
    from leadline.run.check import CheckResult

__all__ = ["check"]


@ends
def check(
    file: StudyFile,
    option: OptionOption = None,
    replaced: SetOption = None,
    json_output: JsonOption = False,
) -> ExitCode:
    """Check a study: its dispersed numbers, legs and requirements, and the median case leg by leg."""
    from leadline.run.check import check as check_study

    checked = check_study(study_of(file, option, replaced))
    typer.echo(checked.to_json() if json_output else _text(checked), nl=not json_output)
    return ExitCode.OK


def _text(checked: CheckResult) -> str:
    from leadline.cli.account_text import account_lines, input_lines, note_lines, title_line
    from leadline.cli.practice_text import mass_budget_lines, practice_lines

    listed = [each.name for each in checked.requirements]
    return "\n".join(
        [
            title_line(checked.study),
            f"{len(checked.inputs)} dispersed numbers, {len(checked.legs)} legs, {len(listed)} requirements.",
            *input_lines(checked.inputs, checked.dependence),
            *practice_lines(checked.practice),
            *mass_budget_lines(checked.mass_budgets),
            "",
            "The case at the median of every dispersed number:",
            *account_lines(checked.nominal),
            *note_lines(checked.notes),
        ]
    )
