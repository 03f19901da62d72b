"""The report on one page: what stands on it, and that nothing runs on it or is fetched."""

from __future__ import annotations

import pytest

from leadline.report.page import CAUTION
from leadline.report.short_page import render_short_report
from leadline.run.answer_files import Answers
from leadline.run.result import Result
from report.hostile import MARKUP, hostile_result
from report.made import made_result
from report.made_answers import made_answers, made_sweep
from report.reading import Page

LARGEST = 6_000_000
"""The brief's bound; a page without a script is far below it."""


@pytest.fixture(scope="module")
def html() -> str:
    return render_short_report(made_answers())


@pytest.fixture(scope="module")
def page(html: str) -> Page:
    return Page(html)


def test_it_holds_the_sentence_the_judgement_what_to_buy_and_the_caution(page: Page) -> None:
    every = made_answers()
    assert every.result is not None
    text = page.top.text.replace("\u00a0", " ")
    for said in (
        every.sentence,
        every.result.judgement.sentence,
        "What would raise the chance most",
        CAUTION,
        every.study.digest,
    ):
        assert said in text
    changes, requirements = page.top.all("table")
    assert len(changes.all("tr")) == 1 + 3
    gains = [float(cell.attributes["value"]) for cell in changes.all("data")][::2]
    assert every.drivers is not None
    assert gains == [row.gain.value for row in every.drivers.buy_down[:3]]
    chances = [float(row.all("data")[-1].attributes["value"]) for row in requirements.all("tr")[1:]]
    assert chances == [*(one.chance.value for one in every.result.requirements), every.result.chance.value]


def test_its_figures_are_the_weakest_margin_what_fails_first_and_what_is_not_known(page: Page) -> None:
    titles = [title.text for title in page.top.all("title")]
    weakest = min(made_result().requirements, key=lambda one: one.chance.value).name
    assert titles[1:] == [weakest, "What fails first, and where", "What is not known yet"]
    assert len(page.top.all("svg")) == len(page.top.all("figcaption")) == 3


def test_nothing_runs_on_it_and_nothing_is_fetched(html: str, page: Page) -> None:
    assert len(html.encode()) <= LARGEST
    assert page.top.all("script") == page.top.all("link") == page.top.all("img") == []
    (policy,) = [e for e in page.top.all("meta") if "http-equiv" in e.attributes]
    assert policy.attributes["content"].startswith("default-src 'none'; style-src 'unsafe-inline'; ")
    pointing = {"href", "src", "srcset", "action", "data", "style"}
    assert [e.tag for e in page.top.below() if pointing & e.attributes.keys()] == []
    (style,) = page.top.all("style")
    assert "url(" not in style.text
    assert "@import" not in style.text
    assert html.count("http://") == html.count('xmlns="http://www.w3.org/2000/svg"')
    assert "https://" not in html


def test_names_on_it_are_text() -> None:
    page = Page(render_short_report(hostile_result()))
    assert page.top.all("script") == page.top.all("a") == []
    assert MARKUP in page.top.text


def test_of_many_requirements_those_that_hold_least_often_are_shown(result: Result) -> None:
    weak, *_ = result.requirements
    many = [weak.model_copy(update={"name": f"safe {n}", "chance": result.requirements[1].chance}) for n in range(10)]
    given = made_result(requirements=(*many, weak))
    page = Page(render_short_report(given))
    names = [row.all("th")[0].text for row in page.top.all("table")[-1].all("tr")[1:]]
    assert names[-2:] == [weak.name, "everything together"]
    assert len(names) == 6 + 1
    assert "5 more hold at least as often; the full report has them." in page.top.text


def test_of_many_ways_to_fail_the_commonest_are_drawn(result: Result) -> None:
    way, *_ = result.first_failures
    ways = tuple(way.model_copy(update={"requirement": f"way {n}", "cases": 100 - n}) for n in range(9))
    page = Page(render_short_report(made_result(first_failures=ways)))
    drawn = [span.text for span in page.top.all("tspan") if span.text.startswith("way ")]
    assert [name.partition(" ·")[0] for name in drawn] == [f"way {n}" for n in range(5)]
    assert "Drawn are the 5 commonest of 9 ways to fail first." in page.top.text


def test_an_answer_without_a_run_is_shown_by_its_figures() -> None:
    page = Page(render_short_report(made_sweep(1)))
    assert len(page.top.all("svg")) == 1
    assert page.top.all("table") == []
    assert CAUTION in page.top.text
    with pytest.raises(ValueError, match="no answers"):
        render_short_report(Answers())
