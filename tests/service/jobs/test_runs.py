"""Runs of every kind, from the store to their files."""

from __future__ import annotations

import csv
import io
import json
import time
from typing import Any

import pytest

from conftest import need
from leadline.errors import OutputError, StudyError
from leadline.run.compare import compare
from leadline.run.drivers import Extent, drivers
from leadline.run.engine import Control, Kept, Request, compute
from leadline.run.executors import InProcess
from leadline.run.result import Result
from leadline.run.sizing import SizingRequest, size_number
from leadline_service.jobs import outcomes
from leadline_service.jobs.dispatcher import Dispatcher
from leadline_service.jobs.kept import KeptRun
from leadline_service.states import RunState
from leadline_service.store.records import FileRecord, Submission
from run.ferries import ferry
from service.jobs.desk import Desk, undisturbed
from service.jobs.owners import wait_for

MARGINS = {"result.json", "margins.csv", "report.html"}


def test_a_run_ends_with_the_library_s_result(desk: Desk, dispatcher: Dispatcher) -> None:
    need("plotly")
    run_id = desk.submit(cases=100_000, seed=3)
    dispatcher.wake()
    run = desk.ended(run_id)
    assert (run.state, run.partial, run.attempts) == (RunState.FINISHED, False, 0)
    assert desk.names(run_id) == MARGINS
    assert desk.document(run_id) == undisturbed(desk.request(cases=100_000, seed=3))
    result = Result.from_json(desk.document(run_id))
    assert run.outcome is not None
    assert run.outcome["chance"] == result.chance.model_dump(mode="json")
    assert run.outcome["sentence"] == result.sentence
    assert desk.document(run_id, "report.html").startswith("<!DOCTYPE html>")


def test_margins_as_a_table(desk: Desk, dispatcher: Dispatcher) -> None:
    run_id = desk.submit(cases=20_000)
    desk.ended(run_id)
    rows = list(csv.DictReader(io.StringIO(desk.document(run_id, "margins.csv"))))
    result = Result.from_json(desk.document(run_id))
    assert [row["requirement"] for row in rows] == [each.name for each in result.requirements]
    for row, each in zip(rows, result.requirements, strict=True):
        assert each.margin is not None
        assert float(row["mean"]) == each.margin.mean  # exact: written with every digit
        assert float(row["p5"]) == next(q.value for q in each.margin.quantiles if q.p == 0.05)


def test_progress_and_the_running_chance_are_told(desk: Desk, dispatcher: Dispatcher) -> None:
    run_id = desk.submit(cases=3_000_000)
    desk.ended(run_id)
    told = [json.loads(event.body_json) for event in desk.store.events(run_id) if event.kind == "progress"]
    counted = [body["cases"] for body in told if body["answer"] == "chance"]
    assert counted == sorted(counted)
    assert any(0 < cases < 3_000_000 for cases in counted)  # a commit on the way
    assert told[-1]["answer"] == "files"
    assert told[-1]["chance"]["low"] < told[-1]["chance"]["value"] < told[-1]["chance"]["high"]


def test_an_option_values_replaced_and_another_design(desk: Desk, dispatcher: Dispatcher) -> None:
    asked: dict[str, Any] = {
        "option": "light",
        "set": {"ferry.tanks.hold.load": "7.9 t"},
        "design": "sobol",
        "cases": 8_192,
    }
    run_id = desk.submit(**asked)
    assert desk.ended(run_id).state is RunState.FINISHED
    assert desk.document(run_id) == undisturbed(desk.request(**asked))


def test_a_run_by_precision(desk: Desk, dispatcher: Dispatcher) -> None:
    run_id = desk.submit(until=0.002)
    assert desk.ended(run_id).state is RunState.FINISHED
    assert desk.document(run_id) == undisturbed(desk.request(until=0.002))


def test_options_compared(desk: Desk, dispatcher: Dispatcher) -> None:
    run_id = desk.submit(cases=50_000, compare=("light",))
    assert desk.ended(run_id).state is RunState.FINISHED
    assert desk.names(run_id) == {"comparison.json", "report.html"}
    assert desk.document(run_id, "comparison.json") == compare(ferry(), Request(50_000), options=["light"]).to_json()


def test_further_answers(desk: Desk, dispatcher: Dispatcher) -> None:
    place = "ferry.tanks.hold.load"
    answers = (
        {"kind": "drivers", "pairs": 16_384, "cases": 16_384},
        {"kind": "sizing", "place": place, "low": "7.5 t", "high": "9 t", "cases": 10_000},
        {"kind": "sizing", "place": "ferry.no.such"},
        {"kind": "sweep", "ranges": [{"place": place, "low": "7.5 t", "high": "9 t", "steps": 3}], "cases": 10_000},
        {"kind": "rare", "variation": 0.3, "most_cases": 100_000},
    )
    run_id = desk.submit(cases=20_000, seed=5, answers=answers)
    run = desk.ended(run_id)
    assert run.state is RunState.FINISHED
    assert desk.names(run_id) == MARGINS | {"drivers.json", "sizing-1.json", "sweep-1.json", "rare.json"}
    assert desk.document(run_id, "drivers.json") == drivers(ferry(), Extent(16_384, 16_384, 5)).to_json()
    sized = size_number(ferry(), SizingRequest(place, "7.5 t", "9 t", cases=10_000, seed=5))
    assert desk.document(run_id, "sizing-1.json") == sized.to_json()
    assert run.outcome is not None
    said = {each["file"]: each["failure"] for each in run.outcome["answers"]}
    # What a study does not take costs its own answer only, and says why.
    assert said[None]["code"] == "study"
    assert "There is no number at ferry.no.such" in said[None]["message"]


def test_every_case_kept(desk: Desk, dispatcher: Dispatcher, monkeypatch: pytest.MonkeyPatch) -> None:
    parquet = need("pyarrow.parquet")
    monkeypatch.setattr("leadline_service.jobs.cases.BLOCKS_PER_PART", 2)
    run_id = desk.submit(cases=70_000, keep_cases=True)
    assert desk.ended(run_id).state is RunState.FINISHED
    assert desk.names(run_id) == MARGINS | {f"cases/part-0000{part}.parquet" for part in range(3)}
    parts = {record.name: record.path for record in desk.store.files(run_id) if record.name.startswith("cases/")}
    tables = [parquet.read_table(io.BytesIO(b"".join(desk.files.read(path)))) for path in sorted(parts.values())]
    numbers = [number for table in tables for number in table["case"].to_pylist()]
    assert numbers == list(range(70_000))
    failed = sum(state == "fails" for table in tables for state in table["state"].to_pylist())
    assert failed == Result.from_json(desk.document(run_id)).cases.failed
    assert tables[0].schema.field("margin.reserve").metadata == {b"unit": b"kg"}


def test_a_finished_run_extended(desk: Desk, dispatcher: Dispatcher) -> None:
    first = desk.submit(cases=10 * 2**14)
    desk.ended(first)
    before = dispatcher.metrics.cases._value.get()
    second = desk.submit(cases=15 * 2**14 + 100, extends=first)
    assert desk.ended(second).state is RunState.FINISHED
    assert dispatcher.metrics.cases._value.get() - before == 5 * 2**14 + 100  # only what is new is computed
    assert desk.document(second) == undisturbed(desk.request(cases=15 * 2**14 + 100))


def test_a_stopped_run_keeps_what_is_done(desk: Desk, dispatcher: Dispatcher) -> None:
    run_id = desk.submit(cases=10**11)
    wait_for(lambda: bool((desk.run(run_id).progress or {}).get("cases")), 20.0, "a first block")
    began = time.monotonic()
    desk.store.cancel(run_id)
    dispatcher.wake()
    run = desk.ended(run_id, within_s=10.0)
    took_s = time.monotonic() - began
    assert (run.state, run.partial) == (RunState.CANCELLED, True)
    assert took_s < 2.0  # within 1 s; the rest is room for a busy machine
    # exact: the partial result is of the kept blocks, to the bit
    kept = KeptRun.from_bytes(desk.store.kept(run_id)).blocks
    assert kept is not None
    again = compute(ferry(), Request(10**11), InProcess(), Control(stopped=lambda: True), start_from=kept)
    assert desk.document(run_id) == again.result.to_json()
    assert Result.from_json(desk.document(run_id)).partial


def test_a_run_stopped_before_anything_was_done(desk: Desk) -> None:
    run_id = desk.submit(cases=100_000)
    claim = desk.store.claim("another", 0.2)
    assert claim is not None
    desk.store.cancel(run_id)
    with Dispatcher(desk.settings, desk.store, desk.files):
        run = desk.ended(run_id)
    assert (run.state, run.partial, run.outcome) == (RunState.CANCELLED, False, None)


def test_an_answer_stopped_leaves_the_chance(desk: Desk, dispatcher: Dispatcher) -> None:
    sizing = {"kind": "sizing", "place": "ferry.tanks.hold.load", "low": "7.5 t", "high": "9 t", "cases": 10**7}
    run_id = desk.submit(cases=20_000, answers=({**sizing, "prefer": "smallest"}, {"kind": "drivers"}))
    wait_for(lambda: (desk.run(run_id).progress or {}).get("answer") == "sizing-1", 20.0, "the sizing")
    desk.store.cancel(run_id)
    run = desk.ended(run_id)
    assert (run.state, run.partial) == (RunState.CANCELLED, True)
    assert desk.document(run_id) == undisturbed(desk.request(cases=20_000))
    assert run.outcome is not None
    assert [each["failure"]["code"] for each in run.outcome["answers"]] == ["stopped", "stopped"]


def test_a_study_that_cannot_be_used_fails_at_once(desk: Desk, dispatcher: Dispatcher) -> None:
    with pytest.raises(StudyError):
        desk.submit(option="none such")
    study = desk.store.put_study("leadline: 1\n", "No study")
    request = desk.request(cases=10).model_copy(update={"study": study.content_id})
    wanted = desk.request(cases=10).identity(ferry())
    run_id = desk.store.submit(Submission("ana", study.content_id, request.document, wanted, 10)).run.run_id
    run = desk.ended(run_id)
    assert run.state is RunState.FAILED
    assert run.failure is not None
    assert run.failure.code == "study"
    assert "title" in run.failure.message


def test_without_what_draws_there_is_no_report(
    desk: Desk, dispatcher: Dispatcher, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(outcomes, "can_draw", lambda: False)
    run_id = desk.submit(cases=20_000)
    assert desk.ended(run_id).state is RunState.FINISHED
    assert desk.names(run_id) == {"result.json", "margins.csv"}


def test_a_try_takes_up_files_that_are_whole(
    desk: Desk, dispatcher: Dispatcher, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An answer made by a try that died is not made again; one that is damaged is."""
    answers = ({"kind": "drivers", "pairs": 1, "cases": 1000}, {"kind": "rare", "variation": 0.5, "most_cases": 1000})
    run_id = desk.submit(cases=20_000, answers=answers)
    desk.ended(run_id)
    kept = KeptRun.from_bytes(desk.store.kept(run_id))
    assert [record.name for record in kept.files] == ["drivers.json", "rare.json"]
    output = outcomes.Output(desk.files, run_id, 1)
    assert all(output.holds(record) for record in kept.files)
    desk.files.write(kept.files[0].path, b"something else")
    assert [output.holds(record) for record in kept.files] == [False, True]
    assert not outcomes.Output(desk.files, desk.submit(cases=1), 1).holds(kept.files[1])  # another run's


def test_what_is_kept_is_read_back() -> None:
    blocks = compute(ferry(), Request(100_000)).kept
    record = FileRecord("drivers.json", "runs/x/1/drivers.json", 3, "0" * 64, "application/json")
    kept = KeptRun(blocks, (record,))
    data = kept.to_bytes()
    read = KeptRun.from_bytes(data)
    assert read.files == (record,)
    assert read.blocks is not None
    assert (read.blocks.stream, read.blocks.spans) == (blocks.stream, blocks.spans)
    assert read.blocks.summary == blocks.summary
    assert read.to_bytes() == data
    assert len(data) < 50_000  # bytes do not grow with the cases
    assert KeptRun.from_bytes(b"leadline run kept 0\n...") == KeptRun()
    assert KeptRun.from_bytes(KeptRun(Kept("s", (), None)).to_bytes()).is_empty


def test_a_report_that_cannot_be_written_is_tried_again(
    desk: Desk, dispatcher: Dispatcher, monkeypatch: pytest.MonkeyPatch
) -> None:
    tries: list[str] = []
    put = outcomes.Output.put_result

    def refuse_once(self: outcomes.Output, result: Result) -> tuple[FileRecord, ...]:
        tries.append(result.sentence)
        if len(tries) == 1:
            raise OutputError("no room for a moment")
        return put(self, result)

    monkeypatch.setattr(outcomes.Output, "put_result", refuse_once)
    run_id = desk.submit(cases=20_000)
    assert desk.ended(run_id).state is RunState.FINISHED
    assert len(tries) == 2
