"""A client against a real service: the same documents as from a run on this machine, and the same errors."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from pathlib import Path

import pytest

from conftest import need
from leadline.client import Client, Drivers, Rare, Refused, RunState, Sizing, Span, Sweep
from leadline.errors import Issue, RunError, StudyError
from leadline.risk.sizing import Prefer
from leadline.run.compare import compare
from leadline.run.drivers import Extent, drivers
from leadline.run.engine import Control, Request, compute, run_study
from leadline.run.rare import RareRequest, rare
from leadline.run.replay import replay
from leadline.run.sizing import SizingRequest, size_number
from leadline.run.sweep import SweepRange, SweepRequest, sweep_numbers
from leadline.study import load, loads
from run.ferries import BLOCK, FERRY, ferry

LOAD = "vehicle.ferry.tanks.hold.load"
MANY = 10**11


def issues_of(action: Callable[[], object]) -> tuple[Issue, ...]:
    with pytest.raises(StudyError) as raised:
        action()
    return raised.value.issues


def test_a_result_is_that_of_a_local_run_bit_for_bit(client: Client) -> None:
    asked = client.submit(FERRY, option="light", set={"legs.out.cost": "905 m/s"}, cases=20_000, seed=3, design="sobol")
    local = ferry().with_option("light").with_values({"legs.out.cost": "905 m/s"})
    computed = compute(local, Request(20_000, 3, type(Request().design)("sobol"))).result
    assert asked.result() == computed  # exact: the promise
    assert asked.result().to_json() == computed.to_json()
    again = client.submit(FERRY, option="light", set={"legs.out.cost": "905 m/s"}, cases=20_000, seed=3, design="sobol")
    assert (again.run_id, asked.found, again.found) == (asked.run_id, "new", "same-run")
    assert client.run(asked.run_id).found == "known"


def test_further_answers_are_those_of_a_local_run(client: Client) -> None:
    asked = client.submit(
        FERRY,
        cases=2_000,
        seed=5,
        answers=[
            Drivers(pairs=500, cases=1_000),
            Sizing(place=LOAD, low="7 t", high="9 t", prefer="largest", cases=1_000),
            Sweep(ranges=[Span(LOAD, "7.6 t", "8.4 t", 3)], cases=500),
            Rare(variation=0.5, most_cases=20_000),
            Sizing(place=LOAD, cases=500),
        ],
    )
    study, quiet = ferry(), Control()
    assert asked.drivers() == drivers(study, Extent(500, 1_000, 5, shapley=False))
    first = SizingRequest(LOAD, "7 t", "9 t", prefer=Prefer.LARGEST, cases=1_000, seed=5)
    assert asked.sizing() == size_number(study, first, quiet)
    assert asked.sizing(2) == size_number(study, SizingRequest(LOAD, cases=500, seed=5), quiet)
    swept = SweepRequest((SweepRange(LOAD, "7.6 t", "8.4 t", 3),), cases=500, seed=5)
    assert asked.sweep() == sweep_numbers(study, swept, quiet)
    assert asked.rare() == rare(study, RareRequest(0.5, 20_000, 5), quiet)
    with pytest.raises(RunError, match="asked for 2 answers of kind sizing"):
        asked.sizing(3)


def test_events_tell_states_and_the_chance_with_its_interval(client: Client) -> None:
    asked = client.submit(FERRY, cases=4 * BLOCK, seed=11)
    events = list(asked.events())
    assert [event.state for event in events if event.kind == "state"] == ["queued", "running", "finished"]
    assert all(before.number < after.number for before, after in itertools.pairwise(events))
    chances = [event.progress.chance for event in events if event.progress is not None]
    last = chances[-1]
    assert last is not None
    assert last == asked.result().chance  # with its interval and the rule it follows
    assert [event.number for event in asked.events(after=events[-2].number)] == [events[-1].number]
    assert list(asked.events(after=events[-1].number)) == []


def test_what_is_wrong_with_a_study_is_told_as_it_is_here(client: Client) -> None:
    broken = FERRY.replace("dry_mass", "dry_mas", 1).replace("8 m3", "8 kt")
    here = issues_of(lambda: loads(broken))
    assert len(here) > 1
    assert here[0].line is not None
    for asked in (lambda: client.check(broken), lambda: client.submit(broken), lambda: client.trial(broken)):
        assert issues_of(asked) == here
    assert issues_of(lambda: client.save("ferry", broken)) == here
    values = {"vehicle.ferry.dry_mass": "3 s", "legs.nowhere": "1 t"}
    assert issues_of(lambda: client.submit(FERRY, set=values)) == issues_of(lambda: ferry().with_values(values))
    for taken in (lambda: client.submit(FERRY, option="heavy"), lambda: client.compare(FERRY, ["heavy"])):
        assert issues_of(taken) == issues_of(lambda: ferry().with_option("heavy"))


def test_a_cancelled_run_keeps_a_partial_result_that_can_be_extended(client: Client) -> None:
    asked = client.submit(FERRY, cases=MANY, seed=21)
    next(event for event in asked.events() if event.progress is not None and event.progress.cases)
    asked.cancel()
    ended = asked.wait(20)
    stopped = asked.result()
    assert (ended.state, ended.partial, stopped.partial) == (RunState.CANCELLED, True, True)
    assert 0 < stopped.cases.total < MANY
    more = asked.extend(1_000)
    assert more.result() == run_study(ferry(), cases=stopped.cases.total + 1_000, seed=21)
    assert more.run.extends == asked.run_id
    more.delete()
    more.delete()  # twice is as good as once
    with pytest.raises(Refused) as gone:
        client.run(more.run_id)
    assert gone.value.status == 404


def test_waiting_has_an_end(client: Client) -> None:
    asked = client.submit(FERRY, cases=MANY, seed=22)
    with pytest.raises(TimeoutError, match="is still"):
        asked.result(0.2)
    asked.cancel()
    seen: list[RunState] = []
    asked.wait(told=lambda run: seen.append(run.state), every_s=0.05)
    assert seen[-1] == RunState.CANCELLED


def test_comparisons_trials_and_cases_are_those_of_a_local_run(client: Client) -> None:
    study, request = ferry(), Request(3_000, 1)
    compared = compare(study, request)
    asked = client.submit(FERRY, compare=["light", "as before"], cases=3_000, seed=1)
    assert asked.comparison() == compared
    assert client.compare(FERRY, cases=3_000, seed=1) == compared
    with pytest.raises(RunError, match="is a comparison, no result"):
        asked.result()
    trial = client.trial(FERRY, cases=3_000, option="light", answers=[Drivers(pairs=100, cases=200)])
    light = study.with_option("light")
    assert trial.result == run_study(light, cases=3_000)
    assert trial.answers == (drivers(light, Extent(100, 200, 0, shapley=False)),)
    assert client.submit(FERRY, cases=100).case(4_711) == replay(study, 4_711)


def test_report_and_cases_are_fetched_whole(client: Client, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    parquet = need("pyarrow.parquet")
    need("plotly")
    monkeypatch.setattr("leadline.client.outcome.PIECE_BYTES", 1_000_000)  # several pieces
    asked = client.submit(FERRY, cases=1_500, keep_cases=True)
    report = asked.report(tmp_path / "new folder" / "report.html")
    sizes = {each.name: each.size for each in asked.files()}
    assert report.stat().st_size == sizes["report.html"] > 1_000_000
    assert report.read_text().rstrip().endswith("</html>")
    (part,) = asked.cases(tmp_path / "cases")
    assert parquet.read_table(part).num_rows == 1_500
    with pytest.raises(RunError, match="has no files with its cases"):
        client.submit(FERRY, cases=1_600).cases(tmp_path)


def test_studies_and_names_are_kept(client: Client) -> None:
    version = client.save("ferry-of-tests", FERRY)
    other = client.save("ferry-of-tests", FERRY.replace("out and back", "there and back"))
    assert (version.version, other.version) == (1, 2)
    assert client.study(version.content_id).text == FERRY
    assert client.submit(version.content_id, cases=500).result() == run_study(ferry(), cases=500)
    assert client.check(FERRY, "light").study.option == "light"


def test_a_study_with_data_files_is_sent_in_full(client: Client, tmp_path: Path) -> None:
    (tmp_path / "masses.csv").write_text("dry\n" + "\n".join(str(9_800 + 10 * step) for step in range(40)))
    path = tmp_path / "ferry.yaml"
    path.write_text(FERRY.replace("{mean: 10 t, sd: 0.2 t}", "{data: masses.csv, column: dry, unit: kg}", 1))
    study = load(path)
    assert client.submit(study, cases=2_000).result() == run_study(study, cases=2_000)
    assert client.check(study).study.digest == study.digest


def test_runs_are_listed_page_by_page(client: Client) -> None:
    asked = [client.submit(FERRY, cases=100 + step).run_id for step in range(5)]
    for run_id in asked:
        client.run(run_id).wait(20)
    content = client.run(asked[0]).run.study
    listed = [run.run_id for run in client.runs(study=content, state=RunState.FINISHED, page=2)]
    assert [run_id for run_id in listed if run_id in asked] == asked[::-1]
    assert list(client.runs(caller="nobody")) == []


def test_what_is_too_much_is_refused_with_the_numbers(client: Client) -> None:
    with pytest.raises(Refused, match="at most 1000000000000 are taken") as refused:
        client.submit(FERRY, cases=10**13)
    assert (refused.value.status, refused.value.flaws[0].place) == (422, "/cases")
    with pytest.raises(Refused, match="/cases: Input should be greater than or equal to 1"):
        client.submit(FERRY, cases=0)
    with pytest.raises(Refused, match="There is no study"):
        client.submit("0" * 64)


def test_the_same_key_with_another_request_is_refused(client: Client) -> None:
    asked = client.submit(FERRY, cases=700, key="a-key")
    assert client.submit(FERRY, cases=700, key="a-key").found == "same-key"
    with pytest.raises(Refused, match="Idempotency-Key"):
        client.submit(FERRY, cases=701, key="a-key")
    assert asked.run.cases == 700
