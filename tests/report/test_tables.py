"""Tables as comma-separated values: what is shown, and beside it the exact number."""

from __future__ import annotations

import csv
import io
import json
import re

import numpy as np
import pytest

from leadline.report.panel import Cell, Table
from leadline.report.registry import panels
from leadline.report.tables import CONTENTS, csv_text, requirement_table, table_files
from leadline.report.wording import plain
from leadline.run.answer_files import Answers
from leadline.run.result import Result
from report.hostile import NAMES, hostile_result
from report.made_answers import made_answers, made_drivers, made_sizing, made_sweep


def rows_of(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text, newline=""), strict=True))


@pytest.fixture(scope="module")
def files() -> dict[str, str]:
    return table_files(made_answers())


def test_every_figure_has_its_table_and_every_number_comes_back_exact(files: dict[str, str]) -> None:
    for panel in panels(made_answers()):
        headers, *rows = rows_of(files[f"{panel.div_id}.csv"])
        assert len(rows) == len(panel.table.rows)
        texts = [place for place, header in enumerate(headers) if not header.endswith(", SI")]
        assert [headers[place] for place in texts] == [plain(header) for header in panel.table.headers]
        for row, cells in zip(rows, panel.table.rows, strict=True):
            assert [row[place] for place in texts] == [plain(cell.text) for cell in cells]
            shown = [cell.value for cell in cells if cell.value is not None]
            exact = [row[place] for place, header in enumerate(headers) if header.endswith(", SI") and row[place]]
            assert [float(text) for text in exact] == shown


def test_the_requirement_table_is_the_results_numbers(files: dict[str, str], result: Result) -> None:
    headers, *rows = rows_of(files["requirements.csv"])
    by_name = {row[0]: dict(zip(headers, row, strict=True)) for row in rows}
    assert list(by_name) == [*(one.name for one in result.requirements), "everything together"]
    for one in result.requirements:
        row = by_name[one.name]
        assert one.margin is not None
        at = {q.p: q.value for q in one.margin.quantiles}
        bounds = [f"{word}, 90\u202f% interval, SI" for word in ("from", "to")]
        names = ["median margin, SI", "5 % of cases below, SI", "95 % of cases below, SI", "chance that it holds, SI"]
        expected = [at[0.5], at[0.05], at[0.95], one.chance.value, one.chance.low, one.chance.high]
        assert [float(row[name]) for name in (*names, *bounds)] == expected
        assert (row["what is required"], row["unit"]) == (one.sentence, one.unit)
    assert float(by_name["everything together"]["chance that it holds, SI"]) == result.chance.value


def test_the_input_table_holds_every_law_whole(files: dict[str, str], result: Result) -> None:
    headers, *rows = rows_of(files["inputs.csv"])
    for row, given in zip(rows, result.inputs, strict=True):
        named = dict(zip(headers, row, strict=True))
        assert json.loads(named["law, SI"]) == given.law
        assert (named["number"], float(named["mean, SI"]), float(named["standard deviation, SI"])) == (
            given.name,
            given.mean,
            given.sd,
        )


def test_further_answers_are_there_as_plain_values(files: dict[str, str]) -> None:
    sizing, sweep = made_sizing(), made_sweep(2)
    headers, *rows = rows_of(files["sizing-1-values.csv"])
    assert headers[0] == sizing.number.place
    assert [float(row[0]) for row in rows] == [point.value for point in sizing.points]
    headers, *rows = rows_of(files["sweep-1-values.csv"])
    assert headers[:2] == [axis.number.place for axis in sweep.axes]
    assert [float(row[headers.index("low")]) for row in rows] == list(sweep.low)
    headers, *rows = rows_of(files["drivers-values.csv"])
    gains = [[float(row[headers.index(name)]) for name in ("gain", "low", "high")] for row in rows]
    assert gains == [[one.gain.value, one.gain.low, one.gain.high] for one in made_drivers().buy_down]
    assert {row[headers.index("distinguishable")] for row in rows} == {"yes", "no"}


def test_the_contents_name_every_other_file_and_what_it_shows(files: dict[str, str]) -> None:
    headers, *rows = rows_of(files[CONTENTS])
    assert headers == ["file", "shows"]
    assert [row[0] for row in rows] == [name for name in files if name != CONTENTS]
    assert all(row[1] for row in rows)


def test_the_form_is_that_of_rfc_4180(files: dict[str, str]) -> None:
    for text in files.values():
        assert text.endswith("\r\n")
        assert re.findall(r"(?<!\r)\n|\r(?!\n)", text) == []
        assert len({len(row) for row in rows_of(text)}) == 1
    # exact: fields with a comma, a quote or a break are quoted, a quote within doubled (RFC 4180, section 2)
    made = Table(("a", "b"), ((Cell('one, "two"'), Cell("3 t", np.float64(0.1) * 3)), (Cell("x\r\ny"), Cell("7", 7))))
    assert csv_text(made) == 'a,b,"b, SI"\r\n"one, ""two""",3 t,0.30000000000000004\r\nx y,7,7\r\n'


def test_hostile_names_come_back_whole_in_one_field() -> None:
    headers, *rows = rows_of(table_files(hostile_result())["requirements.csv"])
    assert [row[0] for row in rows[:-1]] == [plain(name) for name in NAMES]
    assert {len(row) for row in rows} == {len(headers)}


def test_a_requirement_without_a_valid_case_says_so(result: Result) -> None:
    nothing = result.requirements[0].model_copy(update={"margin": None})
    table = requirement_table(result.model_copy(update={"requirements": (nothing,)}))
    assert [cell.text for cell in table.rows[0][3:6]] == ["no valid case", "", ""]


def test_without_a_run_there_are_the_answers_tables_only() -> None:
    assert set(table_files(made_sweep(1))) == {CONTENTS, "sweep-1.csv", "sweep-1-values.csv"}
    with pytest.raises(ValueError, match="no answers"):
        table_files(Answers())
