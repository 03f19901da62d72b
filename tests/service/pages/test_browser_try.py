"""Changes tried in the browser, undone, and kept as an option."""

from __future__ import annotations

import statistics

import pytest
from playwright.sync_api import Page, expect

from leadline.study import loads
from run.ferries import FERRY
from service.pages.browsing import SEEN_MS, Site, Visit

ANSWER = "#answer[data-changes='{}']:not([data-answer])"


def answered(page: Page, changes: int) -> None:
    """Wait for the answer to so many changes."""
    page.wait_for_selector(ANSWER.format(changes), timeout=SEEN_MS)


@pytest.fixture(scope="module")
def tried_run(site: Site) -> str:
    """Return a run of 100 000 cases of a study saved as `tried`."""
    return site.run_study("tried", FERRY.replace("out and back", "to be tried"), cases=100_000)


def test_a_change_is_answered_undone_and_kept_as_an_option(visit: Visit, site: Site, tried_run: str) -> None:
    page = visit.go(f"/runs/{tried_run}/try")
    answered(page, 0)
    before = page.locator("#sentence").inner_text()
    row = page.locator("tr[data-place='vehicle.ferry.dry_mass']")
    row.locator("[data-part=nominal]").fill("9.8 t")
    answered(page, 1)
    assert page.locator("#sentence").inner_text() != before
    assert "on the same" in page.locator("#difference").inner_text()
    assert "changed" in str(row.get_attribute("class"))
    row.locator("[data-part=spread]").focus()
    page.keyboard.press("ArrowLeft")
    answered(page, 2)
    assert page.locator("#changes li").count() == 2
    page.locator("#undo").click()
    answered(page, 1)
    page.locator("#undo").click()
    answered(page, 0)
    assert page.locator("#sentence").inner_text() == before
    assert row.locator("[data-part=nominal]").input_value() == row.locator("[data-part=nominal]").get_attribute(
        "data-was"
    )
    page.locator("#redo").click()
    answered(page, 1)
    page.locator("#option-name").fill("tried here")
    page.locator("#save-option").click()
    page.wait_for_selector("#saved")
    study = loads(site.text_of("tried"))
    assert "tried here" in study.options
    medians = {one.name: one.law.median for one in study.with_option("tried here").inputs}
    assert medians["vehicle.ferry.dry_mass"] == pytest.approx(9_800.0)  # exact: what was typed
    page.locator("#save-option").click()
    expect(page.locator("#problem")).to_contain_text("already")


def test_what_cannot_be_is_said_at_the_number(visit: Visit, tried_run: str) -> None:
    visit.awaited = ("422",)
    page = visit.go(f"/runs/{tried_run}/try")
    answered(page, 0)
    sentence = page.locator("#sentence").inner_text()
    field = page.locator("tr[data-place='vehicle.ferry.dry_mass'] [data-part=nominal]")
    field.fill("9.8 kt")
    expect(field).to_have_attribute("aria-invalid", "true", timeout=SEEN_MS)
    assert "kt" in page.locator("#problem").inner_text()
    assert page.locator("#sentence").inner_text() == sentence
    field.fill("9.8 t")
    answered(page, 1)
    assert page.locator("#problem").inner_text() == ""
    assert field.get_attribute("aria-invalid") is None


def test_an_option_is_taken_and_numbers_are_found(visit: Visit, tried_run: str) -> None:
    page = visit.go(f"/runs/{tried_run}/try")
    answered(page, 0)
    page.locator("#option-taken").select_option(label="light")
    answered(page, 1)
    assert "light" in page.locator("#sentence").inner_text()
    rows = page.locator("#numbers tbody tr:visible").count()
    page.locator("#filter").fill("isp")
    assert 0 < page.locator("#numbers tbody tr:visible").count() < rows


def test_an_answer_to_100_000_cases_is_drawn_at_once(visit: Visit, tried_run: str) -> None:
    # promised: 0.2 s from the key to the drawn answer; allowed here: five times that, on a machine that does other
    # things too. The median of nine is what is compared.
    page = visit.go(f"/runs/{tried_run}/try")
    answered(page, 0)
    assert "100" in page.locator("#chance").inner_text()
    field = page.locator("tr[data-place='vehicle.ferry.dry_mass'] [data-part=nominal]")
    took = []
    for number in range(9):
        took.append(
            page.evaluate(
                """([place, value]) => new Promise((resolve) => {
                  const field = document.querySelector(`tr[data-place='${place}'] [data-part=nominal]`);
                  const sentence = document.getElementById('sentence');
                  const begun = performance.now();
                  const seen = new MutationObserver(() => requestAnimationFrame(() => setTimeout(() => {
                    seen.disconnect();
                    resolve(performance.now() - begun);
                  })));
                  seen.observe(sentence, {childList: true, characterData: true, subtree: true});
                  field.value = value;
                  field.dispatchEvent(new InputEvent('input', {bubbles: true}));
                })""",
                ["vehicle.ferry.dry_mass", f"{9.7 + 0.01 * number:.2f} t"],
            )
        )
        answered(page, 1)
    assert field.input_value() == "9.78 t"
    assert statistics.median(took) < 1_000, took
