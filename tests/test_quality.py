"""How the code reads: the tools, and the habits that no tool checks."""

from __future__ import annotations

import ast
import re
import statistics
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from locked import PROJECT, pins
from project import EVERYTHING, ROOT, SOURCES, description, distribution, python_files, run, syntax

Function = ast.FunctionDef | ast.AsyncFunctionDef

TOOLS = Path(sys.executable).parent
VAGUE_NAMES = {"common", "helper", "helpers", "manager", "misc", "util", "utils"}
TOP_LEVEL = {
    "DEVELOPERS.md",
    "LICENSE",
    "Makefile",
    "README.md",
    "docker",
    "pyproject.toml",
    "requirements.lock",
    "service",
    "src",
    "studies",
    "tests",
}
MADE_HERE = {"build", "dist", "htmlcov", "out"}  # what make and the tools leave behind; none of it is kept


@pytest.mark.parametrize("command", ["ruff format --check .", "ruff check .", "mypy"])
def test_tool_finds_nothing(command: str) -> None:
    tool, *arguments = command.split()
    said = run([str(TOOLS / tool), *arguments])
    assert said.returncode == 0, said.stdout + said.stderr


def test_no_file_over_400_lines() -> None:
    long = {name(path): lines for path in python_files(*EVERYTHING) if (lines := len(lines_of(path))) > 400}
    assert long == {}


def test_no_function_over_40_statements() -> None:
    assert {place: n for place, node in functions(*EVERYTHING) if (n := statements(node)) > 40} == {}


def test_most_functions_and_files_are_short() -> None:
    bodies = [body_lines(node) for _, node in functions(*SOURCES)]
    files = [len(lines_of(path)) for path in python_files(*SOURCES)]
    measured = (statistics.median(bodies), statistics.quantiles(bodies, n=10)[-1], statistics.median(files))
    assert all(value <= bound for value, bound in zip(measured, (8, 25, 150), strict=True)), measured


def test_at_least_95_percent_of_the_functions_are_fully_annotated() -> None:
    annotated = [(place, is_annotated(node)) for place, node in functions(*EVERYTHING)]
    bare = [place for place, complete in annotated if not complete]
    assert len(bare) <= 0.05 * len(annotated), bare


def test_no_more_than_six_positional_parameters() -> None:
    many = {place: n for place, node in functions(*SOURCES) if (n := positional(node)) > 6}
    assert {place: n for place, n in many.items() if not place.startswith("src/leadline/cli/")} == {}


def test_no_module_is_named_for_nothing() -> None:
    parts = {name(path): set(path.relative_to(ROOT).with_suffix("").parts) for path in python_files(*EVERYTHING)}
    assert {place: found & VAGUE_NAMES for place, found in parts.items() if found & VAGUE_NAMES} == {}


def test_top_level_holds_only_what_belongs_there() -> None:
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert found - MADE_HERE == TOP_LEVEL


def test_the_lock_names_no_index_and_no_place_on_a_disk() -> None:
    lock = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    assert re.findall(r"^.*(?:://|--(?:extra-)?index|--find-links|file:| @ |(?:^|\s)/).*$", lock, re.MULTILINE) == []


def test_the_lock_pins_and_hashes_whatever_pyproject_asks_for() -> None:
    every = pins((ROOT / "requirements.lock").read_text(encoding="utf-8"))
    assert [pin.name for pin in every if "--hash=sha256:" not in pin.text] == []
    project = description()
    shipped = [project["project"]["dependencies"], *project["project"]["optional-dependencies"].values()]
    asked_for = {distribution(entry) for entries in shipped for entry in entries} - {"leadline"}
    assert {pin.name for pin in every if PROJECT in pin.via} == asked_for
    groups = project["dependency-groups"].values()
    grouped = {distribution(entry) for group in groups for entry in group if isinstance(entry, str)}
    assert grouped <= {pin.name for pin in every}


def functions(*folders: str) -> Iterator[tuple[str, Function]]:
    """Yield every function with the place it stands at."""
    for path in python_files(*folders):
        for node in ast.walk(syntax(path)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                yield f"{name(path)}:{node.lineno} {node.name}", node


def name(path: Path) -> str:
    """Return a path as seen from the project's folder."""
    return str(path.relative_to(ROOT))


def lines_of(path: Path) -> list[str]:
    """Return a file's lines."""
    return path.read_text(encoding="utf-8").splitlines()


def body(node: Function) -> list[ast.stmt]:
    """Return a function's statements without its docstring."""
    return node.body[1:] if ast.get_docstring(node, clean=False) is not None else node.body


def body_lines(node: Function) -> int:
    """Return how many lines a function's body takes, its docstring left out."""
    inside = body(node)
    return (inside[-1].end_lineno or 0) - inside[0].lineno + 1 if inside else 0


def statements(node: Function) -> int:
    """Return how many statements a function holds, nested ones included."""
    return sum(isinstance(child, ast.stmt) for statement in body(node) for child in ast.walk(statement))


def positional(node: Function) -> int:
    """Return how many parameters a function takes by position."""
    return len(node.args.posonlyargs) + len(node.args.args)


def is_annotated(node: Function) -> bool:
    """Say whether every parameter (besides self and cls) and the result carry an annotation."""
    arguments = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    arguments += [argument for argument in (node.args.vararg, node.args.kwarg) if argument is not None]
    bare = [argument for argument in arguments if argument.annotation is None and argument.arg not in {"self", "cls"}]
    return not bare and node.returns is not None
