"""Runs in the browser: asked for, watched, stopped, gone on with, read, taken along, put side by side."""

from __future__ import annotations

import json
import re

from playwright.sync_api import expect

from run.ferries import FERRY
from service.pages.browsing import SEEN_MS, Site, Visit, grave

MANY = 400_000_000
"""Cases that nobody waits for: the run is stopped."""


def drawn(visit: Visit) -> None:
    """Wait until every figure is drawn."""
    visit.page.wait_for_selector("html[data-drawn]", timeout=SEEN_MS)


def test_a_run_is_asked_for_watched_and_read(visit: Visit, site: Site) -> None:
    site.put_study("walk", FERRY.replace("out and back", "there and back"))
    page = visit.write("/studies/walk")
    page.locator("#run-cases").fill("3 000 000")
    page.locator("#run").click()
    page.wait_for_url(re.compile("/runs/run_"))
    drawn(visit)  # the page has gone from watching to the result by itself
    assert page.locator("#watch").count() == 0
    assert (
        "closes" in page.locator(".opening").first.inner_text()
        or "chance" in page.locator(".opening").first.inner_text()
    )
    figures = page.locator(".drawing[data-figure]").count()
    assert figures >= 4
    assert page.locator(".drawing.js-plotly-plot svg.main-svg").count() >= figures
    page.goto(site.url + "/")
    row = page.locator("#studies tr[data-study=walk]")
    assert "%" in row.locator("[data-cell=chance]").inner_text()


def test_a_long_run_is_watched_stopped_and_gone_on_with(visit: Visit, site: Site) -> None:
    study = site.put_study("long", FERRY)["content_id"]
    page = visit.write("/studies/long")
    page.locator("#run-cases").fill(str(MANY))
    page.locator("#run-seed").fill("11")
    page.locator("#run").click()
    page.wait_for_url(re.compile("/runs/run_"))
    expect(page.locator("#watch-chance")).to_contain_text("%", timeout=SEEN_MS)
    first = page.locator("#watch-cases").inner_text()
    expect(page.locator("#watch-cases")).not_to_have_text(first, timeout=SEEN_MS)
    expect(page.locator("#watch-rate")).to_contain_text("a second")
    expect(page.locator("#watch-left")).to_contain_text("left")
    page.wait_for_selector("#watch-figure svg.main-svg")
    assert "after" in str(page.locator("#watch-figure").get_attribute("aria-label"))
    assert grave(page) == []
    list_of_runs = page.context.new_page()
    list_of_runs.goto(site.url + "/")
    row = list_of_runs.locator(f"#runs tr[data-run={page.url.rpartition('/')[2]}]")
    expect(row).to_have_attribute("data-state", "running")
    page.bring_to_front()
    page.locator("#cancel").click()
    page.wait_for_selector("#extend-form", timeout=SEEN_MS)
    list_of_runs.bring_to_front()
    expect(row).to_have_attribute("data-state", "cancelled", timeout=SEEN_MS)  # kept fresh without being loaded anew
    list_of_runs.close()
    assert "stopped before its last case" in page.locator(".partial").first.inner_text()
    drawn(visit)
    page.locator("#extend-cases").fill("many")
    page.locator("#extend").click()
    assert "whole number" in page.locator("#problem").inner_text()
    stopped = page.url
    page.locator("#extend-cases").fill("20000")
    page.locator("#extend").click()
    page.wait_for_url(lambda address: address != stopped)
    page.wait_for_selector("#extend-form", timeout=SEEN_MS)
    assert study in str(page.locator("#main").get_attribute("data-study"))


def test_a_result_is_taken_along(visit: Visit, ferry_run: str) -> None:
    page = visit.go(f"/runs/{ferry_run}")
    drawn(visit)
    with page.expect_download() as saved:
        page.locator("button[data-save=svg]").first.click()
    picture = saved.value.path().read_text(encoding="utf-8")
    assert picture.startswith("<svg")
    assert "<script" not in picture
    with page.expect_download() as saved:
        page.locator("button[data-save=png]").first.click()
    assert saved.value.path().read_bytes().startswith(b"\x89PNG")
    links = page.locator("#downloads a").evaluate_all("(all) => all.map((one) => one.href)")
    kinds = {page.request.get(link).headers["content-type"].split(";")[0] for link in links if "/v1/" in link}
    assert {"application/json", "text/csv", "text/html"} <= kinds


def test_every_figure_has_a_sentence_a_table_and_a_name(visit: Visit, ferry_run: str) -> None:
    page = visit.go(f"/runs/{ferry_run}")
    drawn(visit)
    for figure in page.locator("figure").all():
        assert len(figure.locator("figcaption").inner_text()) > 20
        assert figure.locator("[role=img]").get_attribute("aria-label")
        figure.locator("summary").click()
        assert figure.locator("tbody tr").count() > 0
        assert figure.locator("table").is_visible()


def test_a_case_is_looked_at_leg_by_leg(visit: Visit, ferry_run: str) -> None:
    page = visit.go(f"/runs/{ferry_run}")
    page.locator("#case-number").fill("17")
    page.locator("#case-form button").click()
    page.wait_for_selector("#case-ledger table")
    assert "case=17" in page.url
    assert "back" in page.locator("#case-ledger").inner_text()
    page.locator("#case-number").fill("the first")
    page.locator("#case-form button").click()
    assert "whole number" in page.locator("#problem").inner_text()


def test_options_are_put_side_by_side(visit: Visit, comparison_run: str, ferry_run: str) -> None:
    page = visit.go(f"/compare?run={comparison_run}")
    drawn(visit)
    assert page.locator(".drawing.js-plotly-plot").count() >= 2
    page = visit.go("/")
    page.locator(f"input[value={ferry_run}]").check()
    assert page.locator("#compare-form button").is_disabled()  # one run is beside nothing
    page.locator(f"input[value={comparison_run}]").check()
    page.locator("#compare-form button").click()
    page.wait_for_url(re.compile("compare"))
    drawn(visit)
    assert page.locator("#beside tbody tr").count() == 2


def test_a_comparison_is_asked_for_on_the_page(visit: Visit, site: Site) -> None:
    site.put_study("options", FERRY.replace("out and back", "of options"))
    page = visit.write("/studies/options")
    page.locator("#run-cases").fill("20000")
    page.locator("#compare-options").click()
    page.wait_for_url(re.compile("/runs/run_"))
    drawn(visit)
    request = page.request.get(page.url.replace("/runs/", "/v1/runs/")).json()["request"]
    assert json.dumps(request["compare"]) == '["light", "as before"]'
