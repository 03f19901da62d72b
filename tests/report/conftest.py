"""What the report's tests share: a made result, drawn once."""

from __future__ import annotations

import pytest

from leadline.report import render_compare_report, render_report
from leadline.run.result import CompareResult, Result
from report.hostile import hostile_comparison, hostile_result
from report.made import made_comparison, made_result
from report.reading import Page


@pytest.fixture(scope="session")
def result() -> Result:
    return made_result()


@pytest.fixture(scope="session")
def comparison() -> CompareResult:
    return made_comparison()


@pytest.fixture(scope="session")
def html(result: Result) -> str:
    return render_report(result)


@pytest.fixture(scope="session")
def page(html: str) -> Page:
    return Page(html)


@pytest.fixture(scope="session")
def compare_page(comparison: CompareResult) -> Page:
    return Page(render_compare_report(comparison))


@pytest.fixture(scope="session", params=["result", "comparison"])
def hostile_html(request: pytest.FixtureRequest) -> str:
    if request.param == "result":
        return render_report(hostile_result())
    return render_compare_report(hostile_comparison())
