"""Texts: what YAML means here, where things stand, and what is refused before it costs anything."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import yaml

from leadline.errors import StudyError
from leadline.study import from_mapping, limits, load, loads
from leadline.study.places import Place
from leadline.study.reading import read, read_value
from study.documents import FERRY, LEAST, changed, issues_of, refused


@pytest.mark.parametrize(
    ("text", "value"),
    # Published: YAML 1.2.2, section 10.3.2, core schema. What YAML 1.1 made of the others stays text.
    [
        ("12", 12), ("-3", -3), ("0.5", 0.5), ("1e3", 1000.0), (".5", 0.5), ("5.", 5.0),
        ("true", True), ("False", False), ("null", None), ("~", None), ("", None),
        ("yes", "yes"), ("no", "no"), ("on", "on"), ("off", "off"), ("y", "y"),
        ("12:30", "12:30"), ("2034-03-02", "2034-03-02"), ("1_000", "1_000"), ("0o17", "0o17"),
        ("18.4 t", "18.4 t"), ("4 %", "4 %"), ("'12'", "12"), ('"true"', "true"),
        ("[1, a]", [1, "a"]), ("{a: 1}", {"a": 1}),
    ],
)  # fmt: skip
def test_plain_values(text: str, value: object) -> None:
    made = read_value(text)
    assert made == value
    assert type(made) is type(value)


def test_keys_stay_texts() -> None:
    assert read("1: a\ntrue: b\non: c\n").tree == {"1": "a", "true": "b", "on": "c"}


def test_places_count_from_one() -> None:
    root = read("a:\n  - b: 1\n  - [x,\n     y]\n").root
    place, depth = root.deepest(("a", 1, 1))
    assert (place.value, depth) == ((4, 6), 3)
    assert root.deepest(("a", 0, "b"))[0].key == (2, 5)
    assert root.deepest(("nothing",)) == (root, 0)


def test_aliases_are_read() -> None:
    assert read("a: &x {b: 1}\nc: *x\n").tree == {"a": {"b": 1}, "c": {"b": 1}}


def test_json_is_read_as_it_is() -> None:
    text = json.dumps(yaml.safe_load(LEAST), indent="\t")
    assert loads(text).digest == loads(LEAST).digest
    # YAML cannot read an escaped surrogate pair; JSON can.
    wide = json.dumps(yaml.safe_load(LEAST) | {"about": "\U0001f6f0"})
    assert "\\ud83d" in wide
    assert loads(wide).document.about == "\U0001f6f0"
    twice = wide[:-1] + ', "title": "again"}'
    assert refused(twice).code == "duplicate-key"


def bomb(layers: int) -> str:
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, layers)]
    return "\n".join(lines)


HOSTILE: list[tuple[str, str, str]] = [
    ("alias bomb", bomb(9), "too-large"),
    ("deep list", "a: " + "[" * 60_000, "too-deep"),
    ("deep mapping", "{a: " * 50_000, "too-deep"),
    ("deep block", "".join("  " * n + "a:\n" for n in range(40)), "too-deep"),
    ("deep JSON", '{"a":' * 40_000, "too-deep"),
    ("many nodes", "a: [" + "1," * 120_000 + "]", "too-large"),
    ("many legs", "legs:\n" + "- {coast: a, lasts: 1 d}\n" * 10_000, "too-large"),
    ("too much text", "#" * 300_000, "too-large"),
    ("long text", "title: " + "x" * 5_000, "too-long"),
    ("long key", "x" * 5_000 + ": 1", "too-long"),
    ("long quoted key", "? " + "x" * 5_000 + "\n: 1", "key"),
    ("list as key", "? [a, b]\n: 1", "key"),
    ("tag", "a: !!python/object/apply:os.system ['true']", "tag"),
    ("own tag", "a: !thing 5", "tag"),
    ("text tag", "a: !!str 5", "tag"),
    ("tagged key", "!!str a: 5", "key"),
    ("endless alias", "a: &x [*x]", "alias"),
    ("unknown alias", "a: *x", "alias"),
    ("second document", "a: 1\n---\nb: 2", "many-documents"),
    ("zero byte", "a: \x00", "not-text"),
    ("half a character", "a: \ud800", "not-text"),
    ("escape character", "a: \x1b[31m", "not-text"),
    ("tab", "a:\n\tb: 1", "syntax"),
    ("percent first", "a: %5", "syntax"),
    ("open bracket", "a: [1, 2", "syntax"),
    ("open quote", 'a: "1', "syntax"),
    ("bad escape", r'a: "\q"', "syntax"),
    ("odd indent", "a:\n   b: 1\n  c: 2", "syntax"),
    ("directive", "%YAML 9.9\n---\na: 1", "syntax"),
    ("list", "[1, 2]", "not-a-mapping"),
    ("text", "hello", "not-a-mapping"),
    ("nothing", "", "not-a-mapping"),
    ("comment", "# only this", "not-a-mapping"),
]


@pytest.mark.parametrize(("text", "code"), [case[1:] for case in HOSTILE], ids=[case[0] for case in HOSTILE])
def test_hostile_texts_are_refused(text: str, code: str) -> None:
    issue = refused(text)
    assert issue.code == code
    assert issue.remedy
    assert len(str(issue)) < 1_000


class _Counted:
    """An event source that tells how much of it was used."""

    def __init__(self, events: Any) -> None:
        self.events, self.used = events, 0

    def __iter__(self) -> _Counted:
        return self

    def __next__(self) -> Any:
        self.used += 1
        return next(self.events)


@pytest.mark.parametrize(
    ("text", "most"),
    # Exact: counting stops at the event that bursts the limit, however much text follows.
    [(bomb(9), 100), ("a: [" + "1," * 120_000 + "]", limits.NODES + 5), ("a: " + "- " * 50_000, limits.DEPTH + 5)],
    ids=["alias bomb", "many nodes", "deep list"],
)
def test_a_hostile_text_is_not_read_to_its_end(text: str, most: int, monkeypatch: pytest.MonkeyPatch) -> None:
    sources: list[_Counted] = []
    parse = yaml.parse

    def counted(given: str, **options: Any) -> _Counted:
        sources.append(_Counted(parse(given, **options)))
        return sources[-1]

    monkeypatch.setattr(yaml, "parse", counted)
    assert issues_of(text)
    assert sources[0].used <= most


def test_text_that_is_too_large_is_never_parsed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(yaml, "parse", None)
    assert refused("x" * 100_000_000).code == "too-large"
    assert refused("x" * (limits.TEXT_BYTES + 1)).code == "too-large"
    assert refused("\u00e9" * (limits.TEXT_BYTES // 2 + 1)).code == "too-large"


def test_as_large_as_allowed() -> None:
    legs = ", ".join(f"{{coast: c{n}, lasts: 1 d}}" for n in range(limits.LEGS))
    assert len(loads(changed(LEAST, ("{coast: drift, lasts: 1 d}", legs))).mission.legs) == limits.LEGS
    one_more = legs + ", {coast: last, lasts: 1 d}"
    assert refused(changed(LEAST, ("{coast: drift, lasts: 1 d}", one_more))).code == "too-large"


def test_options_of_a_large_study_are_limited_in_all() -> None:
    legs = ", ".join(f"{{coast: c{n}, lasts: {{low: 1 d, high: 2 d}}}}" for n in range(limits.LEGS))
    options = "options:\n" + "".join(f"  o{n}: {{stone.dry_mass: 2 t}}\n" for n in range(limits.OPTIONS))
    large = changed(LEAST, ("{coast: drift, lasts: 1 d}", legs)) + options
    # Exact: 200 legs of 11 values and keys each and 40 options stay below the limit; with 8000 values more they do not.
    assert issues_of(large) == ()
    values = ", ".join(["1 t"] * 4_000)
    chances = ", ".join(["0.00025"] * 4_000)
    own = f"dry_mass: {{values: [{values}], chances: [{chances}]}}"
    assert [issue.code for issue in issues_of(changed(large, ("dry_mass: 1 t", own)))] == ["too-large"]


def test_of_very_many_issues_the_first_are_told_and_how_many_more() -> None:
    legs = ", ".join(f"{{coast: c{n}, lasts: 1 kd}}" for n in range(limits.LEGS))
    issues = issues_of(changed(LEAST, ("{coast: drift, lasts: 1 d}", legs)))
    assert len(issues) == limits.ISSUES + 1
    assert issues[-1].message.startswith("100 more")
    assert [issue.path[1] for issue in issues[:-1]] == list(range(100))


def test_requirements_count_with_supplies() -> None:
    asked = "".join(f"  r{n}: {{stack_mass: {{at_most: 90 t}}}}\n" for n in range(52))
    text = changed(FERRY, ("  reserve:", f"{asked}  reserve:"))
    issue = next(issue for issue in issues_of(text) if issue.path == ("requirements",))
    assert "61 requirements" in issue.message  # exact: 52 + 7 asked, and 2 tanks drawn on


@pytest.mark.parametrize(
    ("value", "code"),
    [
        ([], "not-a-mapping"),
        (None, "not-a-mapping"),
        ({1: 2}, "key"),
        ({"a": object()}, "type"),
        ({"a": b"bytes"}, "type"),
        ({"a": {"b": 1j}}, "type"),
        ({"a": "x" * 5_000}, "too-long"),
        ({"a": [0] * 30_000}, "too-large"),
    ],
)
def test_mappings_that_no_study_can_be(value: Any, code: str) -> None:
    with pytest.raises(StudyError) as caught:
        from_mapping(value)
    assert [issue.code for issue in caught.value.issues] == [code]


def test_a_mapping_in_itself_is_refused() -> None:
    endless: dict[str, Any] = {}
    endless["a"] = endless
    with pytest.raises(StudyError, match="within one another"):
        from_mapping(endless)


def test_issues_of_a_mapping_have_no_line_but_the_same_order() -> None:
    given = yaml.safe_load(LEAST) | {"titel": 1, "ask": {"chance": 2}}
    with pytest.raises(StudyError) as caught:
        from_mapping(given)
    assert [issue.path for issue in caught.value.issues] == [("titel",), ("ask", "chance")]
    assert {issue.line for issue in caught.value.issues} == {None}
    assert Place().shown is None


def test_files(tmp_path: Path) -> None:
    file = tmp_path / "least.yaml"
    file.write_text("\ufeff" + LEAST, encoding="utf-8")
    study = load(file)
    assert study.digest == loads(LEAST).digest
    assert study.source_text == LEAST


@pytest.mark.parametrize(
    ("content", "message"),
    [(None, "cannot be read"), (b"title: \xff", "no UTF-8"), (b"x" * 300_000, "256 KiB"), (b"\xfe\xffa", "no UTF-8")],
)
def test_files_that_cannot_be_read(content: bytes | None, message: str, tmp_path: Path) -> None:
    file = tmp_path / "study.yaml"
    if content is not None:
        file.write_bytes(content)
    with pytest.raises(StudyError, match=message) as caught:
        load(file)
    assert caught.value.issues[0].remedy


def test_a_folder_and_a_device_are_no_files(tmp_path: Path) -> None:
    for path in (tmp_path, Path("/dev/zero")):
        with pytest.raises(StudyError, match="no plain file"):
            load(path)
