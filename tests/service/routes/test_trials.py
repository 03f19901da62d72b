"""Answers that are waited for."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from leadline.errors import Issue, StudyError
from leadline.run.answers import SweepResult
from leadline.run.compare import compare
from leadline.run.drivers import Extent, drivers
from leadline.run.engine import Request, run_study
from leadline.run.result import CompareResult, Result
from leadline.run.sizing import SizingRequest, size_number
from leadline.sampling import Design
from leadline.study import Study, loads
from leadline_service.schemas import TrialResult
from leadline_service.store.port import Store
from service.routes.served import FERRY, Served, serving
from service.stepped_clock import SteppedClock


def test_a_trial_is_the_librarys_run(served: Served) -> None:
    answer = served.post("/v1/trial", json={"text": FERRY, "option": "light", "cases": 5_000, "seed": 2})
    assert answer.status_code == 200, answer.text
    found = TrialResult.model_validate_json(answer.content)
    assert found.result == run_study(loads(FERRY).with_option("light"), cases=5_000, seed=2)  # exact
    assert found.answers == ()
    assert served.get("/v1/runs").json()["items"] == []  # nothing is stored


def test_a_stored_study_is_tried_with_values_replaced(served: Served) -> None:
    changed = {"ferry.dry_mass": "9.7 t"}
    answer = served.post("/v1/trial", json={"study": served.stored(), "set": changed, "cases": 2_000})
    assert Result.model_validate(answer.json()["result"]) == run_study(loads(FERRY).with_values(changed), cases=2_000)


def test_further_answers_come_in_the_order_asked_for(served: Served) -> None:
    asked = [
        {"kind": "sizing", "place": "ferry.tanks.hold.load", "cases": 1_000},
        {"kind": "drivers", "pairs": 1, "cases": 1_000},
        {
            "kind": "sweep",
            "ranges": [{"place": "ferry.tanks.hold.load", "low": "7 t", "high": "8 t", "steps": 3}],
            "cases": 500,
        },
    ]
    answer = served.post("/v1/trial", json={"text": FERRY, "cases": 1_000, "answers": asked})
    assert answer.status_code == 200, answer.text
    sizing, driving, sweep = TrialResult.model_validate_json(answer.content).answers
    study = loads(FERRY)
    assert sizing == size_number(study, SizingRequest("ferry.tanks.hold.load", cases=1_000))  # exact
    assert driving == drivers(study, Extent(1, 1_000))  # exact
    assert isinstance(sweep, SweepResult)
    assert (len(sweep.succeeded), sweep.cases) == (3, 500)


def test_options_are_compared(served: Served) -> None:
    answer = served.post("/v1/compare", json={"text": FERRY, "cases": 3_000, "options": ["light"]})
    assert answer.status_code == 200, answer.text
    expected = compare(loads(FERRY), Request(3_000), options=["light"])
    assert CompareResult.from_json(answer.content) == expected  # exact


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({}, "#"),
        ({"text": FERRY, "study": "0" * 64}, "#"),
        ({"study": "0" * 64}, "#/study"),
        ({"text": FERRY.replace("316 s", "316 m")}, "#/text/vehicle/ferry/engines/main/isp/mean"),
        ({"text": FERRY, "option": "heavy"}, "#/option"),
        ({"text": FERRY, "set": {"ferry.wings": 2}}, "#/set/ferry.wings"),
        ({"text": FERRY, "cases": 200_001}, "#/cases"),
        ({"text": FERRY, "answers": [{"kind": "sizing", "place": "ferry.wings"}]}, "#/answers/0"),
        ({"text": FERRY, "answers": [{"kind": "rare", "most_cases": 10**8}]}, "#/answers"),
    ],
)
def test_what_does_not_fit_is_pointed_at(served: Served, body: dict[str, Any], pointer: str) -> None:
    answer = served.post("/v1/trial", json=body)
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, pointer), answer.text


def test_a_trial_that_takes_too_long_is_ended(quick_store: Store, clock: SteppedClock, tmp_path: Path) -> None:
    with serving(quick_store, clock, tmp_path, trial_s=0.001) as served:
        answer = served.post("/v1/trial", json={"text": FERRY, "cases": 1})
        assert (answer.status_code, answer.headers["retry-after"]) == (503, "2")
        assert "start a run" in answer.json()["detail"]


def test_only_so_many_trials_at_once(quick_store: Store, clock: SteppedClock, tmp_path: Path) -> None:
    with serving(quick_store, clock, tmp_path, trials_at_once=1, trials_waiting=1) as served:
        statuses: list[int] = []

        def ask() -> None:
            statuses.append(served.post("/v1/trial", json={"text": FERRY, "cases": 200_000}).status_code)

        threads = [threading.Thread(target=ask) for _ in range(6)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert set(statuses) == {200, 503}
    assert statuses.count(200) >= 2  # one computed, one in line


NUMBERS = st.fixed_dictionaries(
    {
        "mass": st.floats(5.0, 12.0),
        "spread": st.floats(0.0, 0.6),
        "isp": st.floats(280.0, 340.0),
        "load": st.floats(4.0, 9.0),
        "out": st.floats(100.0, 1_200.0),
        "back": st.floats(100.0, 900.0),
        "reserve": st.floats(0.0, 2_000.0),
    }
)


def made(numbers: dict[str, float]) -> str:
    """Write a small study."""
    return f"""\
leadline: 1
title: Made by a machine
vehicle:
  ferry:
    dry_mass: {{mean: {numbers["mass"]!r} t, sd: {numbers["spread"]!r} t}}
    engines: {{main: {{isp: {{mean: {numbers["isp"]!r} s, sd: 1 s}}, mixture_ratio: 1.65}}}}
    tanks: {{hold: {{propellant: n2o4-mmh, load: {numbers["load"]!r} t, load_ratio: 1.65, volume: 9 m3}}}}
legs:
  - {{burn: out, engine: ferry.main, tank: ferry.hold, cost: {{mean: {numbers["out"]!r} m/s, sd: 5 m/s}}}}
  - {{coast: wait, lasts: {{low: 1 d, high: 3 d}}}}
  - {{burn: back, engine: ferry.main, tank: ferry.hold, cost: {numbers["back"]!r} m/s}}
requirements:
  reserve: {{propellant: ferry.hold, at_least: {numbers["reserve"]!r} kg, after: back}}
"""


def loaded(text: str) -> tuple[Study | None, tuple[Issue, ...]]:
    """Load a study, or return what is wrong with it."""
    try:
        return loads(text), ()
    except StudyError as error:
        return None, error.issues


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(NUMBERS, st.integers(1, 20_000), st.integers(0, 2**53 - 1), st.sampled_from([each.value for each in Design]))
def test_any_study_gets_the_librarys_answer_bit_for_bit(
    served: Served, numbers: dict[str, float], cases: int, seed: int, design: str
) -> None:
    text = made(numbers)
    body = {"text": text, "cases": cases, "seed": seed, "design": design}
    answer = served.post("/v1/trial", json=body)
    study, issues = loaded(text)
    if study is None:  # the machine does not know what fits into the tank
        told = [(flaw["line"], flaw["column"], flaw["code"]) for flaw in answer.json()["errors"]]
        assert told == [(each.line, each.column, each.code) for each in issues]  # exact
        return
    expected = run_study(study, cases=cases, seed=seed, design=Design(design))
    assert answer.status_code == 200, answer.text
    assert Result.model_validate(answer.json()["result"]).to_json() == expected.to_json()  # exact
