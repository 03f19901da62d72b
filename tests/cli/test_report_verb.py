"""The `report` verb: what it writes from a run's folder, and that it overwrites nothing untold."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from typer.testing import CliRunner, Result

from leadline.cli.application import build
from leadline.cli.exits import ExitCode
from leadline.cli.reports import Reports
from leadline.report.short_page import render_short_report
from leadline.report.tables import table_files
from leadline.report.vector import drawing_files
from leadline.run.answer_files import Answers, read_answers
from leadline.run.result import Result as RunResult
from run.hopper import HOPPER

Command = Callable[..., Result]
PROGRAM = (sys.executable, "-m", "leadline")
LOAD = "hopper.tanks.hold.load"
WRITERS = Reports(short=render_short_report, tables=table_files, figures=drawing_files)


def invoke(*words: object, reports: Reports = WRITERS) -> Result:
    return CliRunner().invoke(build(), [str(word) for word in words], obj=reports)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a run and a sizing of it."""
    place = tmp_path_factory.mktemp("study")
    study = place / "hopper.yaml"
    study.write_text(HOPPER)
    for words in (("run", study), ("size", study, LOAD)):
        assert invoke(*words, "--cases", "4000", "--out", place / "out").exit_code == ExitCode.OK
    return place / "out"


@pytest.fixture(scope="module")
def answers(folder: Path) -> Answers:
    digest = RunResult.from_json((folder / "result.json").read_bytes()).study.digest
    return read_answers(folder, digest)


def test_the_three_forms_are_written_from_all_answers(folder: Path, answers: Answers, tmp_path: Path) -> None:
    before = {path: path.read_bytes() for path in folder.iterdir()}
    short, tables, figures = tmp_path / "new" / "short.html", tmp_path / "tables", tmp_path / "figures"
    said = invoke("report", folder, "--short", short, "--tables", tables, "--figures", figures)
    assert said.exit_code == ExitCode.OK, said.stderr
    assert said.stdout == ""
    expected = len(table_files(answers)) + len(drawing_files(answers)) + 1
    assert said.stderr == f"{expected} files written: {short}, {tables}, {figures}\n"
    assert short.read_text(encoding="utf-8") == render_short_report(answers)
    assert {path.name: path.read_bytes().decode() for path in tables.iterdir()} == table_files(answers)
    assert {path.name: path.read_text(encoding="utf-8") for path in figures.iterdir()} == drawing_files(answers)
    assert {"sizing-1.svg", "margin-1.svg"} <= {path.name for path in figures.iterdir()}
    for path in figures.iterdir():
        assert ET.parse(path).getroot().tag.endswith("svg")  # noqa: S314 - written just now
    assert {path: path.read_bytes() for path in folder.iterdir()} == before


def test_nothing_is_overwritten_without_being_told(folder: Path, tmp_path: Path) -> None:
    figures, short = tmp_path / "figures", tmp_path / "short.html"
    figures.mkdir()
    (figures / "margin-1.svg").write_text("mine")
    (figures / "notes.txt").write_text("also mine")
    words = ("report", folder, "--short", short, "--tables", tmp_path / "tables", "--figures", figures)
    said = invoke(*words)
    assert said.exit_code == ExitCode.RUN_FAILED
    assert "margin-1.svg is there already; name another place, or add --replace" in said.stderr
    assert sorted(path.name for path in tmp_path.iterdir()) == ["figures"]  # not even a part of it was written
    assert (figures / "margin-1.svg").read_text() == "mine"
    assert invoke(*words, "--replace", "--quiet").stderr == ""
    assert (figures / "margin-1.svg").read_text().startswith("<?xml")
    assert (figures / "notes.txt").read_text() == "also mine"
    assert invoke("report", folder, "--short", short).exit_code == ExitCode.RUN_FAILED


def test_a_folder_is_never_replaced_by_a_file(folder: Path, tmp_path: Path) -> None:
    said = invoke("report", folder, "--short", tmp_path, "--replace")
    assert said.exit_code == ExitCode.RUN_FAILED
    assert "is a folder; name a file" in said.stderr
    (tmp_path / "file").write_text("mine")
    said = invoke("report", folder, "--tables", tmp_path / "file")
    assert said.exit_code == ExitCode.RUN_FAILED
    assert "cannot be made" in said.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


def test_something_must_be_asked_for(folder: Path) -> None:
    said = invoke("report", folder)
    assert said.exit_code == ExitCode.USAGE
    assert "say what to write" in said.stderr


def test_a_folder_without_a_run_or_without_an_answer_is_said(folder: Path, tmp_path: Path) -> None:
    words = ("--short", tmp_path / "short.html")
    empty = tmp_path / "empty"
    empty.mkdir()
    said = invoke("report", empty, *words)
    assert said.exit_code == ExitCode.RUN_FAILED
    assert "is not a run's; name the folder given to run --out" in said.stderr
    (empty / "run.json").write_bytes((folder / "run.json").read_bytes())
    said = invoke("report", empty, *words)
    assert said.exit_code == ExitCode.RUN_FAILED
    assert "holds no answer yet" in said.stderr
    assert invoke("report", tmp_path / "missing", *words).exit_code == ExitCode.USAGE
    assert not (tmp_path / "short.html").exists()


def test_where_nothing_can_be_drawn_that_is_said(folder: Path, tmp_path: Path) -> None:
    said = invoke("report", folder, "--figures", tmp_path / "figures", reports=Reports())
    assert said.exit_code == ExitCode.RUN_FAILED
    assert "pip install 'leadline[report]'" in said.stderr
    assert list(tmp_path.iterdir()) == []


def test_the_program_writes_the_same(folder: Path, answers: Answers, tmp_path: Path) -> None:
    short = tmp_path / "short.html"
    command = [*PROGRAM, "report", str(folder), "--short", str(short), "--tables", str(tmp_path), "--quiet"]
    done = subprocess.run(command, check=True, capture_output=True, text=True, timeout=60)
    assert done.stderr == done.stdout == ""
    assert short.read_text(encoding="utf-8") == render_short_report(answers)
    assert (tmp_path / "requirements.csv").read_bytes().decode() == table_files(answers)["requirements.csv"]
