"""Names that try to be markup, to turn the writing direction or to burst the page are shown as text."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leadline.report import panels, render_report
from leadline.report.page import rendered
from leadline.report.panel import Table
from leadline.report.wording import clipped, label, plain
from leadline.run.result import Result, StudyLabel
from report.hostile import MARKUP, SOLID, TURNED, hostile_result
from report.made import made_comparison, made_result
from report.reading import Page

TURNERS = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u061c\u200e\u200f\x00\x07"


def test_no_name_becomes_an_element_or_ends_one(hostile_html: str) -> None:
    page = Page(hostile_html)
    assert len(page.top.all("script")) == 3
    assert page.top.all("a") == page.top.all("b", href="") == []
    assert all(bold.text != "bold" for bold in page.top.all("b"))
    assert not [name for element in page.top.below() for name in element.attributes if name.startswith("on")]
    assert MARKUP in page.top.text  # shown, as text; and the template language does not read it
    assert "{{ 7*7 }}" in page.top.text


def test_no_mark_turns_the_rest_of_the_line(hostile_html: str) -> None:
    page = Page(hostile_html)
    (data, *_) = page.top.all("script")
    shown = [element.text for part in ("header", "main", "title") for element in page.top.all(part)]
    shown += [value for element in page.top.below() for value in element.attributes.values()]
    shown += [data.text, json.dumps(json.loads(data.text), ensure_ascii=False)]
    assert [(turner, text[:80]) for turner in TURNERS for text in shown if turner in text] == []
    assert plain(TURNED) in page.top.text


def test_names_are_cut_where_they_stand_and_given_whole_once(hostile_html: str) -> None:
    page = Page(hostile_html)
    assert page.top.text.count(SOLID) == 1
    assert len(hostile_html.encode()) - len(page.top.all("script")[1].text.encode()) <= 500_000
    for kind in ("th", "td", "h1", "figcaption", "p"):
        assert max((len(element.text) for element in page.top.all(kind)), default=0) <= 700


def test_figures_hold_no_markup_that_the_drawing_library_would_read() -> None:
    for panel in panels(hostile_result()):
        layout = panel.spec["layout"]
        texts = [note["text"] for note in layout.get("annotations", ())] + list(layout["yaxis"].get("ticktext", ()))
        assert [text for text in texts if "<" in text or len(text) > 140] == []


def test_the_figures_data_cannot_end_its_script(result: Result) -> None:
    # A label is escaped before it comes here; the data must hold even for one that was not.
    (panel, *_) = panels(result)
    spec = {**panel.spec, "name": "</script><!-- & \u2028"}
    html = rendered("compare.html.j2", [replace(panel, spec=spec)], **compare_context())
    (data, *others) = Page(html).top.all("script")
    assert len(others) == 2
    assert not set("<>&\u2028") & set(data.text)
    assert json.loads(data.text)["figures"][0]["spec"] == json.loads(json.dumps(spec))


def compare_context() -> dict[str, Any]:
    empty = made_comparison().model_copy(update={"options": ()})
    nothing: dict[str, Any] = dict.fromkeys(("figures", "sentences", "long_names", "provenance"), ())
    return {"title": "", "kicker": "", "facts": "", "result": empty, "chances": Table((), ()), **nothing}


@given(st.text(st.characters(codec="utf-8"), max_size=300))
def test_any_title_is_shown_as_text(title: str) -> None:
    study = StudyLabel(title=title, digest="0" * 64)
    page = Page(render_report(made_result(study=study, requirements=(), ledger=(), first_failures=())))
    (heading,) = page.top.all("h1")
    assert heading.text == clipped(title, 160)
    assert len(page.top.all("script")) == 3


@pytest.mark.parametrize(
    ("given_text", "most", "expected"),
    [("short", 10, "short"), ("x" * 12, 10, "x" * 9 + "…"), ("a\n b\t c", 10, "a b c"), ("ab cd", 4, "ab…")],
)
def test_clipping(given_text: str, most: int, expected: str) -> None:
    assert clipped(given_text, most) == expected  # exact: by definition


def test_a_label_is_escaped_after_it_is_cut() -> None:
    assert label("<b>&", 10) == "&lt;b&gt;&amp;"  # exact: no escape is ever cut in half
    assert label("<" * 30, 5) == "&lt;" * 4 + "…"
