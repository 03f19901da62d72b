"""The folder of a run: what it holds, what it refuses, and that a run goes on in it."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from conftest import need
from leadline.errors import OutputError
from leadline.run.answer_files import Answers, answer_file
from leadline.run.answers import SizingResult
from leadline.run.compare_folder import put_comparison, require_room
from leadline.run.engine import Control, Request, compute
from leadline.run.folder import OutFolder, RunLabel
from leadline.run.result import CompareResult, Result
from leadline.run.sizing import SizingRequest, size_number
from leadline.run.whole_file import whole_file
from leadline.run.work import Work, fly_block, prepared
from leadline.sampling import Design
from leadline.study import load
from run.ferries import BLOCK, FERRY, computed, ferry


def label(seed: int = 0, digest: str | None = None) -> RunLabel:
    study = ferry()
    return RunLabel(study.title, digest or study.digest, study.option, seed, "independent")


def write_report(answers: Answers, path: Path) -> None:
    path.write_text(answers.sentence)


def write_comparison(compared: CompareResult, path: Path) -> None:
    path.write_text(compared.sentence)


def test_holds_study_result_and_report(tmp_path: Path) -> None:
    study, folder = ferry(), OutFolder(tmp_path / "new" / "out", label())
    folder.put_study(study.source_text, study.resolved())
    result = computed(Request(BLOCK)).result
    folder.put_result(result, write_report)
    names = {path.name for path in folder.path.iterdir()}
    assert names == {"run.json", "study.yaml", "resolved.json", "result.json", "report.html"}
    assert (folder.path / "study.yaml").read_text() == FERRY
    assert Result.from_json((folder.path / "result.json").read_text()) == result
    assert (folder.path / "report.html").read_text() == result.sentence
    assert load(folder.path / "resolved.json").digest == study.digest


def test_another_run_is_refused_unless_replaced(tmp_path: Path) -> None:
    OutFolder(tmp_path, label()).put_result(computed(Request(BLOCK)).result, write_report)
    with pytest.raises(OutputError, match="holds another run.*--replace"):
        OutFolder(tmp_path, label(seed=1))
    with pytest.raises(OutputError, match="holds another run"):
        OutFolder(tmp_path, label(digest="0" * 64))
    assert (tmp_path / "result.json").exists()
    OutFolder(tmp_path, label(seed=1), replace=True)
    assert {path.name for path in tmp_path.iterdir()} == {"run.json"}


@pytest.fixture(scope="module")
def sized() -> SizingResult:
    return size_number(ferry(), SizingRequest("ferry.tanks.hold.load", cases=200))


def write_count(answers: Answers, path: Path) -> None:
    path.write_text(f"{len(answers.every)} documents")


def test_further_answers_stand_beside_any_run_of_the_study(tmp_path: Path, sized: SizingResult) -> None:
    OutFolder(tmp_path, label(seed=7)).put_result(computed(Request(BLOCK)).result, write_count)
    beside = OutFolder(tmp_path, label(seed=1), beside=True)
    path = beside.put_answer(sized, write_count)
    assert path.name == "sizing-vehicle.ferry.tanks.hold.load.json"
    assert SizingResult.from_json(path.read_text()) == sized
    assert (tmp_path / "report.html").read_text() == "2 documents"
    assert json.loads((tmp_path / "run.json").read_text())["seed"] == 7
    assert beside.answers().sizings == (sized,)
    OutFolder(tmp_path, label(seed=7))  # the run can still be gone on with
    with pytest.raises(OutputError, match="holds another run"):
        OutFolder(tmp_path, label(digest="0" * 64), beside=True)


def test_a_run_may_follow_the_answers_and_replacing_removes_them(tmp_path: Path, sized: SizingResult) -> None:
    OutFolder(tmp_path, label(), beside=True).put_answer(sized, None)
    OutFolder(tmp_path, label(seed=5)).put_result(computed(Request(BLOCK)).result, None)
    assert len(OutFolder(tmp_path, label(seed=5)).answers().every) == 2
    OutFolder(tmp_path, label(digest="0" * 64), replace=True)
    assert {path.name for path in tmp_path.iterdir()} == {"run.json"}


def test_the_same_question_has_the_same_file_and_names_stay_apart(sized: SizingResult) -> None:
    def name(place: str) -> str:
        number = sized.number.model_copy(update={"place": place})
        return answer_file(sized.model_copy(update={"number": number}))

    assert name("a.b") == "sizing-a.b.json"
    odd = [name(place) for place in ("a/b", "a b", "a:b", "ä", "../../etc", "x" * 5_000, "x" * 5_001)]
    assert len(set(odd)) == len(odd)
    assert all(len(each) < 120 and "/" not in each for each in odd)


def test_a_document_that_cannot_be_read_is_named(tmp_path: Path, sized: SizingResult) -> None:
    folder = OutFolder(tmp_path, label(), beside=True)
    folder.put_answer(sized, None)
    (tmp_path / "drivers.json").write_text("{}")
    with pytest.raises(OutputError, match=r"drivers\.json is no document"):
        folder.answers()


def test_documents_of_other_studies_are_left_out_and_never_mixed(tmp_path: Path, sized: SizingResult) -> None:
    other = sized.model_copy(update={"study": sized.study.model_copy(update={"digest": "0" * 64})})
    folder = OutFolder(tmp_path, label(), beside=True)
    folder.put_answer(other, None)
    assert folder.answers().every == ()
    with pytest.raises(ValueError, match="different studies"):
        Answers.of(sized, other)
    with pytest.raises(ValueError, match="no answers"):
        _ = Answers().sentence


def test_a_folder_of_other_things_is_never_touched(tmp_path: Path) -> None:
    (tmp_path / "holiday.txt").write_text("mine")
    for replace in (False, True):
        with pytest.raises(OutputError, match="not a run's"):
            OutFolder(tmp_path, label(), replace=replace)
    assert (tmp_path / "holiday.txt").read_text() == "mine"


def test_a_file_is_no_folder(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("")
    with pytest.raises(OutputError, match="is a file"):
        OutFolder(tmp_path / "out", label())


def test_a_run_goes_on_from_what_was_saved(tmp_path: Path) -> None:
    first = OutFolder(tmp_path, label())
    computed(Request(40_000), control=Control(save=first.save))
    again = OutFolder(tmp_path, label())
    kept = again.start_from(with_cases=False)
    assert kept is not None
    assert kept.spans == ((0, 2),)
    result = compute(ferry(), Request(100_000), start_from=kept).result
    assert result.to_json() == computed(Request(100_000)).result.to_json()


def test_fewer_cases_do_not_lose_what_more_had_saved(tmp_path: Path) -> None:
    computed(Request(100_000), control=Control(save=OutFolder(tmp_path, label()).save))
    computed(Request(40_000), control=Control(save=OutFolder(tmp_path, label()).save))
    kept = OutFolder(tmp_path, label()).kept()
    assert kept is not None
    assert kept.spans == ((0, 6),)


@pytest.mark.parametrize("damage", [slice(0, 100), slice(40, None), slice(0, -1)])
def test_damaged_savings_are_left_alone(tmp_path: Path, damage: slice) -> None:
    folder = OutFolder(tmp_path, label())
    computed(Request(40_000), control=Control(save=folder.save))
    path = tmp_path / "kept.bin"
    path.write_bytes(path.read_bytes()[damage])
    assert OutFolder(tmp_path, label()).kept() is None


def test_a_file_appears_whole_or_not_at_all(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("before")
    with pytest.raises(TypeError), whole_file(tmp_path / "a") as temporary:
        temporary.write_text(1)  # type: ignore[arg-type]  # fails with the file half made
    assert {path.name: path.read_text() for path in tmp_path.iterdir()} == {"a": "before"}
    with pytest.raises(OutputError, match="cannot be written"), whole_file(tmp_path / "no" / "b") as temporary:
        temporary.write_text("x")


def test_parts_hold_every_case(tmp_path: Path) -> None:
    parquet = need("pyarrow.parquet")
    folder = OutFolder(tmp_path, label())
    result = compute(ferry(), Request(20_000), keep_folder=str(folder.cases)).result
    table = parquet.read_table(folder.cases)
    assert table.num_rows == 20_000  # exact
    assert table.column("case").to_pylist() == list(range(20_000))
    states = table.column("state").to_pylist()
    counted = tuple(states.count(word) for word in ("succeeds", "fails", "invalid"))
    assert counted == (result.cases.succeeded, result.cases.failed, result.cases.invalid)
    first = list(zip(table.column("fails_first").to_pylist(), table.column("fails_after").to_pylist(), strict=True))
    for each in result.first_failures:
        assert first.count((each.requirement, each.leg)) == each.cases
    ready = prepared(Work.of(ferry(), 0, Design.INDEPENDENT))
    columns, outcome = fly_block(ready, 0, BLOCK)
    for wanted, values in zip(ready.plan.requirements, outcome.margins, strict=True):
        assert np.array_equal(table.column(f"margin.{wanted.name}").to_numpy()[:BLOCK], values)
    for name, values in zip(ready.sampler.names, columns, strict=True):
        assert np.array_equal(table.column(name).to_numpy()[:BLOCK], values)
    schema = parquet.read_schema(folder.cases / "block-0000000.parquet")
    assert schema.field("margin.reserve").metadata == {b"unit": b"kg"}
    assert schema.field("vehicle.ferry.engines.main.isp").metadata == {b"unit": b"s"}
    assert schema.field("legs.out.cost").metadata == {b"unit": b"m/s"}
    assert schema.metadata[b"study"].decode() == ferry().digest


def test_parts_decide_whether_a_run_with_cases_can_go_on(tmp_path: Path) -> None:
    need("pyarrow")
    folder = OutFolder(tmp_path, label())
    compute(ferry(), Request(40_000), control=Control(save=folder.save), keep_folder=str(folder.cases))
    assert folder.start_from(with_cases=True) is not None
    (folder.cases / "block-0000001.parquet").unlink()
    assert folder.start_from(with_cases=True) is None
    assert folder.start_from(with_cases=False) is not None
    folder.keep_parts(((0, 1),))
    assert [part.name for part in folder.cases.iterdir()] == ["block-0000000.parquet"]


def test_a_comparison_is_not_overwritten(tmp_path: Path) -> None:
    from leadline.run.compare import compare

    compared = compare(ferry(), Request(BLOCK), options=["light"])
    require_room(tmp_path, replace=False)
    put_comparison(tmp_path, compared, write_comparison)
    assert json.loads((tmp_path / "comparison.json").read_text())["kind"] == "comparison"
    assert (tmp_path / "comparison.html").read_text() == compared.sentence
    with pytest.raises(OutputError, match="holds a comparison"):
        require_room(tmp_path, replace=False)
    require_room(tmp_path, replace=True)
