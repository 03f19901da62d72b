"""Laws from the column of a CSV file beside the study."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from leadline.errors import Issue, StudyError
from leadline.sampling import Empirical
from leadline.study import Study, from_mapping, limits, load, loads
from study.documents import LEAST, changed, law

RUNS = "run,leak (W),mass\n1,90,1.5\n2,110,1.25\n\n3,95.5,1.75\n"


def text(reference: str) -> str:
    return changed(LEAST, ("dry_mass: 1 t", f"dry_mass: {{{reference}}}"))


def loaded(folder: Path, reference: str) -> Study:
    file = folder / "study.yaml"
    file.write_text(text(reference), encoding="utf-8")
    return load(file)


def refused(folder: Path, reference: str) -> Issue:
    with pytest.raises(StudyError) as caught:
        loaded(folder, reference)
    assert len(caught.value.issues) == 1, str(caught.value)
    return caught.value.issues[0]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    inside = tmp_path / "studies"
    (inside / "data").mkdir(parents=True)
    (inside / "data" / "runs.csv").write_text(RUNS, encoding="utf-8")
    (tmp_path / "secret.csv").write_text(RUNS, encoding="utf-8")
    return inside


def test_a_column_becomes_a_law_and_goes_with_the_resolved_study(folder: Path) -> None:
    study = loaded(folder, "data: data/runs.csv, column: mass, unit: t")
    # Exact: the column's values in kg.
    assert law(study, "vehicle.stone.dry_mass") == Empirical((1500.0, 1250.0, 1750.0))
    again = from_mapping(study.resolved())
    assert (again.inputs, again.digest) == (study.inputs, study.digest)
    assert "runs.csv" not in str(study.resolved())


def test_a_folder_may_be_named_for_a_text(folder: Path) -> None:
    study = loads(text("data: data/runs.csv, column: mass, unit: t"), folder=folder)
    assert study.inputs


def test_quotes_and_a_byte_order_mark(folder: Path) -> None:
    (folder / "q.csv").write_text('\ufeff"a, b","c"\r\n"1",2\r\n"3",4\r\n', encoding="utf-8")
    study = loaded(folder, "data: q.csv, column: 'a, b', unit: kg")
    assert law(study, "vehicle.stone.dry_mass") == Empirical((1.0, 3.0))


@pytest.mark.parametrize(
    "name",
    [
        "../secret.csv", "data/../../secret.csv", "/etc/passwd", "//etc/passwd", r"..\\secret.csv", "C:/secret.csv",
        r"\\host\x",
        "data/runs.csv/../../../secret.csv", "''", "' '", r'"a\0b"',
    ],
)  # fmt: skip
def test_names_that_lead_out_of_the_folder(folder: Path, name: str) -> None:
    issue = refused(folder, f"data: {name}, column: mass, unit: t")
    assert issue.path[-1] == "data"
    assert issue.code == "data-file"
    assert "leads out of" in issue.message
    assert "data/engine_runs.csv" in issue.remedy


def test_links_that_lead_out_of_the_folder(folder: Path) -> None:
    (folder / "link.csv").symlink_to(folder.parent / "secret.csv")
    (folder / "away").symlink_to(folder.parent)
    (folder / "round.csv").symlink_to(folder / "round.csv")
    for name in ("link.csv", "away/secret.csv"):
        assert "outside the study's folder" in refused(folder, f"data: {name}, column: mass, unit: t").message
    assert refused(folder, "data: round.csv, column: mass, unit: t").code == "data-file"


def test_a_link_that_stays_inside_is_followed(folder: Path) -> None:
    (folder / "inside.csv").symlink_to(folder / "data" / "runs.csv")
    assert loaded(folder, "data: inside.csv, column: mass, unit: t").inputs


def test_what_is_no_plain_file(folder: Path) -> None:
    os.mkfifo(folder / "pipe.csv")
    assert "no plain file" in refused(folder, "data: pipe.csv, column: mass, unit: t").message
    assert refused(folder, "data: data, column: mass, unit: t").code == "data-file"
    assert "cannot be read" in refused(folder, "data: missing.csv, column: mass, unit: t").message


@pytest.mark.parametrize(
    ("content", "message", "remedy"),
    [
        (b"mass\n1\nx\n", '"x t" is not a mass', "18.4 t"),
        (b"mass\n1\nnan\n", "not a finite number", "18.4 t"),
        (b"mass\n1\n'1,5'\n", "is not a mass", "18.4 t"),
        (b"mass\n1\n-5\n", "impossible here", "above 0 kg"),
        (b"mass\n1\n", "at least two values", ""),
        (b"mass\n", "list is wanted", "18.4 t"),
        (b"", 'no column "mass"', "Columns: none"),
        (b"mas,b\n1,2\n", 'no column "mass"', 'Did you mean "mas"?'),
        (b"mass,mass\n1,2\n", 'two columns "mass"', "its own name"),
        (b"b,mass\n1,2\n3\n", "Row 3 of the file has nothing", "Fill it in"),
        (b"mass\n1\n\xff\n", "not UTF-8", "UTF-8"),
        (b'mass\n"1\n', "no CSV table", "header line"),
        (b"mass\n" + b"1\n" * 9000, "9000 values", str(limits.DATA_VALUES)),
        (b"mass\n" + b"1" * (2 * 1024 * 1024), "more than 1024 KiB", "data/engine_runs.csv"),
    ],
    ids=range(14),
)  # fmt: skip
def test_files_that_cannot_be_used(folder: Path, content: bytes, message: str, remedy: str) -> None:
    (folder / "bad.csv").write_bytes(content)
    issue = refused(folder, "data: bad.csv, column: mass, unit: t")
    assert message in issue.message
    assert remedy in issue.remedy
    assert issue.line == 3


@pytest.mark.parametrize(
    ("reference", "code"),
    [
        ("data: data/runs.csv, column: mass", "missing-key"),
        ("data: data/runs.csv, unit: t", "missing-key"),
        ("data: data/runs.csv, column: mass, unit: s", "wrong-dimension"),
        ("data: data/runs.csv, column: mass, unit: 5", "not-a-text"),
        ("data: [data/runs.csv], column: mass, unit: t", "not-a-text"),
        ("data: data/runs.csv, column: mass, unit: t, mean: 5 t", "unknown-key"),
        ("law: data, values: 5, unit: t", "not-a-list"),
        ("law: data, values: [1, a], unit: t", "not-a-quantity"),
        ("law: data, values: [1, 2]", "missing-key"),
    ],
)  # fmt: skip
def test_references_that_cannot_be_used(folder: Path, reference: str, code: str) -> None:
    file = folder / "study.yaml"
    file.write_text(text(reference), encoding="utf-8")
    with pytest.raises(StudyError) as caught:
        load(file)
    assert caught.value.issues[0].code == code


def test_all_columns_together_are_limited(folder: Path) -> None:
    (folder / "many.csv").write_text("a,b\n" + "1,2\n" * 4500, encoding="utf-8")
    own = "dry_mass: {data: many.csv, column: a, unit: t}, tanks: {bag: {propellant: hydrazine, load: %s}}"
    own %= "{data: many.csv, column: b, unit: t}"
    (folder / "study.yaml").write_text(changed(LEAST, ("dry_mass: 1 t", own)), encoding="utf-8")
    with pytest.raises(StudyError, match="9000 values from files"):
        load(folder / "study.yaml")


def test_the_same_column_twice_counts_once(folder: Path) -> None:
    (folder / "many.csv").write_text("a\n" + "1\n" * 4500, encoding="utf-8")
    own = "dry_mass: {data: many.csv, column: a, unit: t}, tanks: {bag: {propellant: hydrazine, load: %s}}"
    own %= "{data: many.csv, column: a, unit: t}"
    (folder / "study.yaml").write_text(changed(LEAST, ("dry_mass: 1 t", own)), encoding="utf-8")
    assert len(load(folder / "study.yaml").inputs) == 2


def test_as_much_data_as_allowed_still_goes_through_the_resolved_text(folder: Path) -> None:
    rows = "".join(f"{1 + n / 7919!r}\n" for n in range(limits.DATA_VALUES))
    (folder / "much.csv").write_text("a\n" + rows, encoding="utf-8")
    study = loaded(folder, "data: much.csv, column: a, unit: t")
    again = loads(json.dumps(study.resolved()))
    assert again.digest == study.digest
