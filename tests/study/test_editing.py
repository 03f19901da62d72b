"""A study's text edited at a place: what is read afterwards, and what is left as it was."""

from __future__ import annotations

import json
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import assume, given, reject, settings
from hypothesis import strategies as st

from leadline.errors import StudyError
from leadline.study.editing import EditError, add, move, remove, rename, set_value
from leadline.study.reading import read
from leadline.study.replacing import replace_values

STUDIES = Path(__file__).parents[2] / "studies"
TERN = (STUDIES / "tern.yaml").read_text()
LOOK = (STUDIES / "tern-first-look.yaml").read_text()


def comments(text: str) -> list[str]:
    """Return what stands behind every number sign, spaces aside."""
    return [line.partition("#")[2].strip() for line in text.splitlines() if "#" in line]


def lines_changed(before: str, after: str) -> int:
    old, new = before.splitlines(), after.splitlines()
    return sum(line not in new for line in old) + sum(line not in old for line in new)


def test_a_number_is_replaced_and_its_comment_stays() -> None:
    made = set_value(LOOK, "tern.engines.main.isp", {"mean": "450 s", "sd": "2 s"})
    assert "isp: {mean: 450 s, sd: 2 s}                         # vacuum" in made
    assert comments(made) == comments(LOOK)
    assert lines_changed(LOOK, made) == 2


def test_a_leg_is_found_by_its_name() -> None:
    made = set_value(LOOK, "legs.capture.cost", "440 m/s")
    tree: Any = read(made).tree
    assert next(leg for leg in tree["legs"] if leg.get("burn") == "capture")["cost"] == "440 m/s"
    assert comments(made) == comments(LOOK)


def test_a_block_becomes_a_line_and_a_line_a_block() -> None:
    made = set_value(LOOK, "tern.tanks.hold.heat_leak", {"median": "90 W", "spread": 1.3})
    # A comment behind the last line of what is replaced is behind what replaces it.
    assert "        heat_leak: {median: 90 W, spread: 1.3}                  # blanket of 45 layers" in made
    long = {"tanks": {"a": {"load": "1 t"}, "b": {"load": "2 t"}}, "dry_mass": "2 t"}
    made = set_value(made, "vehicle.saddle", long)
    assert "  saddle:\n    tanks: {a: {load: 1 t}, b: {load: 2 t}}\n    dry_mass: 2 t\n" in made
    made = set_value(LOOK, ("ask",), {"chance": "95 %", "about": {"why": {"not": "so"}}})
    assert "\nask:\n  chance: 95 %\n  about: {why: {not: so}}\n" in made


def test_what_is_not_there_yet_is_added_where_it_belongs() -> None:
    made = set_value(LOOK, ("options", "lighter"), {"vehicle.tern.dry_mass": "17 t", "dependence": []})
    assert made.startswith(LOOK.rstrip("\n"))
    assert read(made).tree["options"]["lighter"]["dependence"] == []  # type: ignore[index,call-overload]
    made = set_value(LOOK, ("about",), 'why: "this" # one')
    assert read(made).tree["about"] == 'why: "this" # one'


@pytest.mark.parametrize("study", [TERN, LOOK])
def test_every_leg_can_be_taken_out_moved_and_put_in_again(study: str) -> None:
    tree = read(study).tree
    legs: Any = tree["legs"]
    for position in range(len(legs)):
        made = remove(study, ("legs", position))
        assert read(made).tree["legs"] == legs[:position] + legs[position + 1 :]
        assert read(add(made, "legs", legs[position], position)).tree == tree
        moved = move(study, ("legs", position), len(legs) - 1 - position)
        order = [leg for leg in legs if leg != legs[position]]
        order.insert(len(legs) - 1 - position, legs[position])
        assert read(moved).tree["legs"] == order
        assert sorted(comments(moved)) == sorted(comments(study))


def test_an_element_is_renamed_in_its_place() -> None:
    made = rename(LOOK, "vehicle.saddle", "sled: two")
    assert list(read(made).tree["vehicle"]) == ["tern", "sled: two"]  # type: ignore[arg-type]
    assert comments(made) == comments(LOOK)
    with pytest.raises(EditError):
        rename(LOOK, "vehicle.saddle", "tern")


def test_the_last_entry_leaves_an_empty_mapping() -> None:
    assert remove("a:\n  b: 1 # why\nc: 2\n", ("a", "b")).startswith("a: {}")
    assert read(remove("a:\n- b\nc: 2\n", ("a", 0))).tree == {"a": [], "c": 2}
    assert remove("a: {b: 1, c: 2, d: 3}\n", ("a", "d")) == "a: {b: 1, c: 2}\n"
    assert remove("a: {b: 1, c: 2, d: 3}\n", ("a", "b")) == "a: {c: 2, d: 3}\n"


def test_windows_line_ends_and_a_missing_last_one_are_kept() -> None:
    text = LOOK.replace("\n", "\r\n").rstrip("\r\n")
    made = set_value(text, "tern.dry_mass", "18 t")
    assert made.count("\r\n") == text.count("\r\n")
    assert read(made).tree["vehicle"]["tern"]["dry_mass"] == "18 t"  # type: ignore[index,call-overload]


def test_json_stays_json() -> None:
    text = json.dumps(read(LOOK).tree, indent=2)
    made = set_value(text, "tern.dry_mass", "18 t")
    made = set_value(made, ("options", "a/b"), {"vehicle.tern.dry_mass": None})
    made = add(remove(made, "legs.outbound"), "legs", {"coast": "x", "lasts": "1 h"}, 2)
    made = move(made, ("legs", 2), 0)
    tree = json.loads(made)
    assert tree["vehicle"]["tern"]["dry_mass"] == "18 t"
    assert tree["options"]["a/b"] == {"vehicle.tern.dry_mass": None}
    assert tree["legs"][0] == {"coast": "x", "lasts": "1 h"}
    assert '\n    "a/b": {' in made


def test_json_that_is_no_yaml_is_written_anew_with_its_indentation() -> None:
    text = '{\n    "title": "a \\ud83d\\ude80",\n    "vehicle": {}\n}\n'
    made = set_value(text, ("title",), "b")
    assert made == '{\n    "title": "b",\n    "vehicle": {}\n}\n'


def test_what_cannot_be_changed_alone_is_refused() -> None:
    anchored = "a: &x {m: 1}\nb: *x\nc: 1\n"
    with pytest.raises(EditError, match="anchor"):
        set_value(anchored, ("a", "m"), 2)  # b would change with it
    with pytest.raises(EditError, match="anchor"):
        remove(anchored, ("a",))
    with pytest.raises(EditError, match="anchor"):
        set_value(anchored, ("b", "m"), 2)
    assert read(set_value(anchored, ("b",), 2)).tree == {"a": {"m": 1}, "b": 2, "c": 1}
    with pytest.raises(EditError, match="twice"):
        set_value("a: 1\na: 2\n", ("a",), 3)
    with pytest.raises(EditError, match="nothing at b"):
        set_value("a: 1\n", ("b", "c"), 3)
    with pytest.raises(EditError):
        remove("a: 1\n", ("b",))
    with pytest.raises(StudyError):
        set_value("a: [\n", ("a",), 3)


TEXTS = st.one_of(
    st.text(max_size=12),
    st.sampled_from(
        ["18.4 t", "95 %", "null", "~", "true", "1", "1.5", "- a", "a: b", "a #b", "#", "{a}", "x:", "é", " ", ""]
    ),
)
SCALARS = st.one_of(
    st.none(), st.booleans(), st.integers(-(10**6), 10**6), st.floats(allow_nan=False, allow_infinity=False), TEXTS
)
KEYS = st.one_of(
    st.sampled_from(["a", "b c", "vehicle.tern", "x-1", "é: #", "12", "null"]), st.text(min_size=1, max_size=8)
)
TREES = st.recursive(
    SCALARS, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=4), max_leaves=14
)
ROOTS = st.dictionaries(KEYS, TREES, min_size=1, max_size=5)


def written(tree: Any, style: str) -> str:
    if style == "json":
        return json.dumps(tree, ensure_ascii=False, indent=1)
    flow = {"block": False, "mixed": None, "flow": True}[style]
    return str(yaml.safe_dump(tree, default_flow_style=flow, allow_unicode=True, sort_keys=False, width=40))


def paths(tree: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    inside = tree.items() if isinstance(tree, dict) else enumerate(tree) if isinstance(tree, list) else ()
    return [path, *(found for step, value in inside for found in paths(value, (*path, step)))]


def readable(text: str) -> dict[str, Any]:
    try:
        reading = read(text)
    except StudyError:
        reject()
    assume(not reading.issues)
    return reading.tree


@settings(max_examples=100, deadline=None)
@given(ROOTS, st.sampled_from(["block", "mixed", "flow", "json"]), TREES, st.data())
def test_any_value_can_be_put_anywhere_and_taken_out(tree: Any, style: str, value: Any, data: st.DataObject) -> None:
    text = written(tree, style)
    before = readable(text)  # YAML 1.1 quotes some texts differently; what counts is what we read
    path = data.draw(st.sampled_from([path for path in paths(before) if path]))
    wanted = deepcopy(before)
    here: Any = wanted
    for step in path[:-1]:
        here = here[step]
    try:
        readable_value = read(json.dumps({"v": value})).tree["v"]
    except StudyError:
        reject()
    here[path[-1]] = readable_value
    made = set_value(text, path, value)
    assert json.dumps(read(made).tree) == json.dumps(wanted)
    del here[path[-1]]
    assert remove(made, path) == "{}" or json.dumps(readable(remove(made, path))) == json.dumps(wanted)


NUMBERS = [
    "tern.dry_mass",
    "vehicle.tern.engines.main.isp",
    "vehicle.tern.tanks.hold.heat_leak.fuel",
    "legs.departure.cost",
    "requirements.reserve.at_least",
    "ask.chance",
    "vehicle.saddle",
    "legs.outbound",
    "legs",
    "dependence",
]


@settings(max_examples=30, deadline=None)
@given(st.sampled_from([TERN, LOOK]), st.sampled_from(NUMBERS), TREES)
def test_a_text_edited_is_the_tree_replaced(text: str, place: str, value: Any) -> None:
    reading = read(text)
    try:
        value = read(json.dumps({"v": value})).tree["v"]
    except StudyError:
        reject()
    replaced = replace_values(reading.tree, {place: value})
    assume(not replaced.issues)
    made = remove(text, place) if value is None else set_value(text, place, value)
    assert json.dumps(read(made).tree) == json.dumps(replaced.tree)
    inside = {
        "vehicle.saddle",
        "legs",
        "dependence",
        "vehicle.tern.tanks.hold.heat_leak.fuel",
    }  # with comments of their own
    if value is not None and place not in inside:
        assert comments(made) == comments(text)
