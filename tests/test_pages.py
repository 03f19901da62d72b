"""README.md and DEVELOPERS.md say what is so."""

from __future__ import annotations

import re

import pytest

import leadline
from project import ROOT


def test_every_make_target_is_explained_and_every_one_explained_exists() -> None:
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    targets = set(re.findall(r"^([a-z-]+):[^=\n]*##", makefile, re.MULTILINE)) - {"help"}
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert set(re.findall(r"`make ([a-z-]+)", guide)) == targets
    assert set(re.findall(r"^make ([a-z-]+)", readme, re.MULTILINE)) <= targets


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_every_file_that_a_page_names_is_there(page: str) -> None:
    text = (ROOT / page).read_text(encoding="utf-8")
    named = re.findall(r"`((?:src|service|tests|studies|docker|\.ci)/[\w./-]*)`", text)
    assert named, "the page names no file at all: has its notation changed?"
    assert [path for path in named if not (ROOT / path).exists()] == []


def test_the_study_of_the_readme_gives_the_answer_beneath_it() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    fenced = re.search(r"^```yaml\n(.*?)^```", readme, re.MULTILINE | re.DOTALL)
    assert fenced is not None
    result = leadline.loads(fenced[1]).run(cases=100_000, seed=0)
    shown = " ".join(readme.split())
    # pinned: the page shows what the program says; the numbers themselves are checked elsewhere
    assert " ".join(result.sentence.split()) in shown
    assert result.document.judgement.sentence in shown
