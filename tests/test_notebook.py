"""Studies and results as a notebook uses them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

import leadline
from conftest import need
from leadline.run.answers import DriversResult, SizingResult
from leadline.run.engine import Progress
from run.ferries import BLOCK, FERRY


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> leadline.NotebookStudy:
    path = tmp_path_factory.mktemp("study") / "ferry.yaml"
    path.write_text(FERRY)
    return leadline.load(path)


@pytest.fixture(scope="module")
def result(study: leadline.NotebookStudy) -> leadline.NotebookResult:
    return study.run(cases=BLOCK)


def test_load_and_run(study: leadline.NotebookStudy, result: leadline.NotebookResult) -> None:
    assert study.title == "A ferry out and back"
    assert study.options == ("light", "as before")
    assert result.document.cases.total == BLOCK
    assert result.sentence == result.document.sentence
    assert result.chance.low < result.chance.value < result.chance.high


def test_more_cases_go_on_from_fewer(study: leadline.NotebookStudy, result: leadline.NotebookResult) -> None:
    told: list[Progress] = []
    more = study.run(cases=3 * BLOCK, more_than=result, progress=told.append)
    assert more.document == study.run(cases=3 * BLOCK).document
    assert told[-1].cases == 3 * BLOCK


def test_options_and_values(study: leadline.NotebookStudy) -> None:
    light = study.with_option("light").run(cases=BLOCK)
    assert light.document.study.option == "light"
    heavy = study.with_values({"vehicle.ferry.dry_mass": "12 t"}).run(cases=100)
    assert heavy.chance.value == 0


def test_to_pandas_has_a_row_for_each_requirement(result: leadline.NotebookResult) -> None:
    need("pandas")
    table = result.to_pandas()
    assert list(table.index) == [each.name for each in result.document.requirements]
    assert {"unit", "chance", "low", "high", "mean", "sd", "p0.1", "p5", "p50", "p99.9"} <= set(table.columns)
    assert list(table["chance"]) == [each.chance.value for each in result.document.requirements]


def test_html_says_the_sentence_and_escapes(result: leadline.NotebookResult) -> None:
    html = result._repr_html_()
    assert result.sentence in html
    assert "<table>" in html
    hostile = leadline.loads(FERRY.replace("A ferry", "<script>"))
    assert "<script>" not in hostile._repr_html_()
    assert "<script>" not in hostile.run(cases=100)._repr_html_()


def test_compare_replay_and_check(study: leadline.NotebookStudy) -> None:
    compared = study.compare(cases=BLOCK, options=["light"])
    assert compared.sentence in compared._repr_html_()
    need("pandas")
    assert list(compared.to_pandas().index) == ["base study", "light"]
    assert study.replay(3).case == 3
    assert study.check().study.title == study.title


def test_figures_and_report(result: leadline.NotebookResult, tmp_path: Path) -> None:
    need("plotly")
    assert result.figure("margin.reserve").data
    result.save_report(tmp_path / "report.html")
    assert result.document.study.title in (tmp_path / "report.html").read_text()


LOAD = "ferry.tanks.hold.load"
ASKED: dict[str, Callable[[leadline.NotebookStudy], leadline.NotebookAnswer]] = {
    "drivers": lambda study: study.drivers(cases=BLOCK, pairs=1),
    "size": lambda study: study.size(LOAD, cases=1_000),
    "sweep": lambda study: study.sweep({LOAD: ("7 t", "9 t")}, steps=3, cases=1_000),
    "rare": lambda study: study.with_option("light").rare(variation=0.3),
}


@pytest.mark.parametrize("what", ASKED)
def test_further_answers_have_a_sentence_a_table_and_a_figure(study: leadline.NotebookStudy, what: str) -> None:
    need("pandas")
    need("plotly")
    answer = ASKED[what](study)
    assert answer.sentence in answer._repr_html_()
    assert "<table>" in answer._repr_html_()
    table = answer.to_pandas()
    assert len(table) >= 3
    assert {"chance", "low", "high"} <= set(table.columns)
    assert answer.figure().data
    with pytest.raises(ValueError, match="no figure is named"):
        answer.figure("gauge")


def test_tables_of_further_answers_hold_the_documents_numbers(study: leadline.NotebookStudy) -> None:
    need("pandas")
    drivers, sized = ASKED["drivers"](study), ASKED["size"](study)
    assert isinstance(drivers.document, DriversResult)
    assert isinstance(sized.document, SizingResult)
    assert list(drivers.to_pandas()["gain"]) == [row.gain.value for row in drivers.document.buy_down]
    assert list(sized.to_pandas()["vehicle.ferry.tanks.hold.load"]) == [each.value for each in sized.document.points]


def test_a_report_takes_further_answers(
    study: leadline.NotebookStudy, result: leadline.NotebookResult, tmp_path: Path
) -> None:
    need("plotly")
    drivers = ASKED["drivers"](study)
    result.save_report(tmp_path / "all.html", drivers, ASKED["size"](study))
    page = (tmp_path / "all.html").read_text()
    assert "What would raise the chance" in page
    assert "Sizing" in page
    drivers.save_report(tmp_path / "drivers.html")
    assert "What must hold" not in (tmp_path / "drivers.html").read_text()
    with pytest.raises(ValueError, match="different studies"):
        result.save_report(tmp_path / "mixed.html", ASKED["rare"](study))


def test_unknown_names_are_refused() -> None:
    with pytest.raises(AttributeError, match="no attribute 'sound'"):
        leadline.sound  # noqa: B018 - looking is the test
    assert "load" in dir(leadline)
