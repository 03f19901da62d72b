"""Hundreds of malformed studies: never anything but issues that say where and what to write."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from leadline.errors import StudyError
from leadline.study import Study, from_mapping, loads
from study.documents import FERRY, LEAST, ORBITER

GOOD: list[dict[str, Any]] = [yaml.safe_load(text) for text in (FERRY, ORBITER, LEAST)]
# Without options and dependence, so that a spoiled value is the only thing that is wrong.
SINGLE: dict[str, Any] = {key: value for key, value in GOOD[0].items() if key not in {"options", "dependence"}}


Path = tuple[str | int, ...]
Steps = list[str | int]

NUMBERS: dict[Path, str] = {
    ("vehicle", "plover", "dry_mass"): "1 t",
    ("vehicle", "plover", "engines", "main", "isp"): "450 s",
    ("vehicle", "plover", "engines", "main", "thrust"): "60 kN",
    ("vehicle", "plover", "engines", "main", "mixture_ratio"): "6",
    ("vehicle", "plover", "engines", "main", "start_loss"): "10 kg",
    ("vehicle", "plover", "engines", "main", "stop_loss"): "10 kg",
    ("vehicle", "creel", "tanks", "main", "load"): "40 t",
    ("vehicle", "creel", "tanks", "main", "load_ratio"): "6",
    ("vehicle", "creel", "tanks", "main", "volume"): "120 m3",
    ("vehicle", "creel", "tanks", "main", "ullage"): "4 %",
    ("vehicle", "creel", "tanks", "main", "unusable"): "1 %",
    ("vehicle", "creel", "tanks", "main", "heat_leak", "oxidiser"): "50 W",
    ("legs", 0, "amount"): "40 t",
    ("legs", 1, "cost"): "3.1 km/s",
    ("legs", 3, "lasts"): "96 h",
    ("requirements", "reserve", "at_least"): "1 t",
    ("requirements", "lifted", "at_most"): "12 t",
    ("requirements", "burning", "at_most"): "40 min",
    ("requirements", "light", "stack_mass", "at_most"): "90 t",
    ("requirements", "soon", "elapsed", "at_most"): "12 d",
    ("requirements", "spare", "at_least"): "50 m/s",
}  # fmt: skip
SPOILED: list[Any] = [
    "", "about 5", "5 furlong", "5 kt", "5 ton", "nan", "inf kg", "1e400 kg", "5\x007", "5,5 kg", "1 000 kg", "--5 kg",
    float("nan"), float("inf"), 10**400, True, None, [], ["5 kg"], {},
    {"mean": "x"}, {"mean": 5}, {"sd": "1 kg"}, {"mean": {"mean": 1}, "sd": 1}, {"median": None, "spread": 2},
    {"low": "2 furlong", "high": "1 furlong"}, {"law": "gauss"}, {"law": 5}, {"values": [], "chances": []},
    {"data": "../x.csv", "column": "a", "unit": "t"},
]  # fmt: skip


def put(tree: dict[str, Any], path: Path, value: Any) -> dict[str, Any]:
    made = copy.deepcopy(tree)
    here: Any = made
    for step in path[:-1]:
        here = here[step]
    here[path[-1]] = value
    return made


def sane(error: StudyError) -> None:
    assert error.issues
    for issue in error.issues:
        assert isinstance(issue.path, tuple)
        assert issue.message.strip().endswith((".", ":"))
        assert issue.remedy.strip()
        assert issue.code
        said = f"{issue.message} {issue.remedy}"
        assert "pydantic" not in said
        assert "Input should" not in said
        assert "Traceback" not in said
        assert len(said) < 1_200


@pytest.mark.parametrize("path", list(NUMBERS), ids=lambda path: ".".join(map(str, path)))
def test_each_number_spoiled_in_thirty_ways(path: Path) -> None:
    from_mapping(put(SINGLE, path, NUMBERS[path]))
    for value in SPOILED:
        with pytest.raises(StudyError) as caught:
            from_mapping(put(SINGLE, path, value))
        sane(caught.value)
        assert any(issue.path[: len(path)] == path for issue in caught.value.issues), (value, str(caught.value))


def test_there_are_far_more_than_200_of_them() -> None:
    assert len(NUMBERS) * len(SPOILED) > 600


def places(tree: Any, path: Steps | None = None) -> Iterator[Path]:
    """Yield the path of every value."""
    path = [] if path is None else path
    if path:
        yield tuple(path)
    pairs = tree.items() if isinstance(tree, dict) else enumerate(tree) if isinstance(tree, list) else ()
    for step, inner in pairs:
        yield from places(inner, [*path, step])


@pytest.mark.parametrize("value", [5, "text", [], None, {"x": {"y": 1}}], ids=str)
def test_every_value_replaced_by_what_does_not_belong(value: Any) -> None:
    for path in places(GOOD[0]):
        loaded_or_sane(put(GOOD[0], path, value))


def loaded_or_sane(tree: Any) -> Study | None:
    try:
        return from_mapping(tree)
    except StudyError as error:
        sane(error)
        return None


def test_every_entry_taken_out() -> None:
    for path in places(GOOD[0]):
        tree = copy.deepcopy(GOOD[0])
        here: Any = tree
        for step in path[:-1]:
            here = here[step]
        del here[path[-1]]
        loaded_or_sane(tree)


def test_every_key_misspelled() -> None:
    for path in places(GOOD[0]):
        if isinstance(path[-1], str) and path[0] != "options":
            tree = copy.deepcopy(GOOD[0])
            here: Any = tree
            for step in path[:-1]:
                here = here[step]
            here[path[-1] + "x"] = here.pop(path[-1])
            loaded_or_sane(tree)


WORDS = st.sampled_from(
    ["5 t", "5 s", "4 %", "plover.main", "creel.main", "plover", "departure", "lox-lh2", "{", "1 %/d"]
)
KEYS = st.sampled_from(["mean", "sd", "low", "high", "burn", "tank", "fill", "at_most", "law", "x"])
JUNK = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12) | WORDS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3),
    max_leaves=6,
)
SIGNS = st.sampled_from(["\t", ": ", "- ", "{", "}", "[", "]", "&a", "*a", "'", '"', "!", "%", "\n"])
PLACES = [".".join(map(str, path)) for path in places(GOOD[0])] + ["legs.departure.cost", "plover.dry_mass", "", "."]


@settings(max_examples=200)
@given(st.data())
def test_a_good_study_changed_at_random_loads_or_says_what_is_wrong(data: st.DataObject) -> None:
    tree = copy.deepcopy(data.draw(st.sampled_from(GOOD)))
    for _ in range(data.draw(st.integers(1, 3))):
        paths = list(places(tree))
        if paths:
            tree = put(tree, data.draw(st.sampled_from(paths)), data.draw(JUNK))
    study = loaded_or_sane(tree)
    if study is not None:
        assert from_mapping(study.resolved()).digest == study.digest


@settings(max_examples=200)
@given(st.data())
def test_a_text_changed_at_random_loads_or_says_where(data: st.DataObject) -> None:
    text = data.draw(st.sampled_from([FERRY, ORBITER, LEAST]))
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text)))
        length = data.draw(st.integers(0, 8))
        new = data.draw(st.text(max_size=4) | SIGNS)
        text = text[:at] + new + text[at + length :]
    try:
        loads(text)
    except StudyError as error:
        sane(error)
        astray = [issue for issue in error.issues if issue.line is None and issue.path]
    else:
        astray = []
    assert astray == []


@settings(max_examples=100)
@given(st.dictionaries(st.text(max_size=8), JUNK, max_size=6) | JUNK)
def test_anything_at_all_is_refused_in_order(tree: Any) -> None:
    assert loaded_or_sane(tree) is None


@settings(max_examples=100)
@given(st.sampled_from(PLACES), JUNK)
def test_values_given_at_random_fit_or_are_refused(place: str, value: Any) -> None:
    try:
        STUDY.with_values({place: value})
    except StudyError as error:
        sane(error)


STUDY = loads(FERRY)


def test_numbers_that_json_can_write_and_floats_cannot_hold() -> None:
    text = json.dumps(GOOD[2]).replace('"1 t"', "1e999")
    with pytest.raises(StudyError) as caught:
        loads(text)
    sane(caught.value)
