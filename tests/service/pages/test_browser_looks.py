"""Every screen, as different people meet it: by assistive tools, on a phone, in the dark, on paper, off the network."""

from __future__ import annotations

import itertools
import json
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser

from run.ferries import FERRY
from service.pages.browsing import SEEN_MS, Site, Visit, grave, visiting
from service.pages.sizes import TITLE, hostile_study, sized_study

FILES = Path(__file__).parents[3] / "service" / "leadline_service" / "pages" / "static"


@pytest.fixture(scope="module")
def addresses(site: Site, ferry_run: str, comparison_run: str) -> dict[str, str]:
    """Return an address of every screen."""
    return {
        "index": "/",
        "new": "/studies/new",
        "study": "/studies/ferry",
        "run": f"/runs/{ferry_run}",
        "try": f"/runs/{ferry_run}/try",
        "compare": f"/compare?run={comparison_run}",
        "reference": "/reference",
        "how-to": "/how-to",
    }


def quiet(visit: Visit, screen: str) -> None:
    """Wait until a screen has come to rest."""
    if screen in {"new", "study"}:
        visit.settled()
    if screen in {"run", "compare"}:
        visit.page.wait_for_selector("html[data-drawn]", timeout=SEEN_MS)
    if screen == "try":
        visit.page.wait_for_selector("#answer[data-changes]:not([data-answer])", timeout=SEEN_MS)


COLOURS = {"runOnly": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}}
"""What another scheme can change: the elements are the same."""


@pytest.mark.parametrize(
    ("scheme", "width", "options"), [("light", 1280, {}), ("dark", 390, COLOURS)], ids=["light and wide", "dark phone"]
)
def test_no_screen_shuts_anybody_out(
    browser: Browser, site: Site, addresses: dict[str, str], scheme: str, width: int, options: dict[str, Any]
) -> None:
    looks = {"color_scheme": scheme, "viewport": {"width": width, "height": 900}}
    with visiting(browser, site, **looks) as visit:
        for screen, address in addresses.items():
            page = visit.go(address)
            quiet(visit, screen)
            for summary in page.locator("details.entry > summary").all()[:3]:
                summary.click()
            assert grave(page, **options) == [], screen
            wide = page.evaluate("() => document.documentElement.scrollWidth")
            assert wide <= width, f"{screen} is {wide} px wide on a page of {width}"


def test_focus_can_be_seen_and_goes_in_the_order_of_reading(visit: Visit, addresses: dict[str, str]) -> None:
    for screen in ("index", "run", "try"):
        page = visit.go(addresses[screen])
        quiet(visit, screen)
        places = []
        for _ in range(12):
            page.keyboard.press("Tab")
            seen, top = page.evaluate(
                "() => { const a = document.activeElement, s = getComputedStyle(a), box = a.getBoundingClientRect();"
                "return [s.outlineStyle !== 'none' || s.boxShadow !== 'none', box.top + scrollY] }"
            )
            assert seen, f"{screen}: nobody sees the focus on {visit.focused()}"
            places.append(top)
        backwards = sum(after < before - 40 for before, after in itertools.pairwise(places))
        assert backwards <= 1, (screen, places)


def test_reduced_motion_is_respected(browser: Browser, site: Site, addresses: dict[str, str]) -> None:
    with visiting(browser, site, reduced_motion="reduce") as visit:
        for screen in ("index", "run"):
            page = visit.go(addresses[screen])
            quiet(visit, screen)
            moving = page.evaluate(
                "() => [...document.querySelectorAll('*')].filter((e) => { const s = getComputedStyle(e);"
                "return parseFloat(s.transitionDuration) > 0.01 || parseFloat(s.animationDuration) > 0.01 }).length"
            )
            assert moving == 0
            assert page.evaluate("() => document.getAnimations().length") == 0


def test_colours_follow_the_scheme_while_the_page_is_open(visit: Visit, ferry_run: str) -> None:
    page = visit.go(f"/runs/{ferry_run}")
    quiet(visit, "run")
    line = (
        "() => getComputedStyle(document.querySelector('.drawing .xtick text, .drawing .gtitle, .drawing text')).fill"
    )
    light = page.evaluate(line)
    page.emulate_media(color_scheme="dark")
    page.wait_for_function(f"(before) => ({line})() !== before", arg=light, timeout=SEEN_MS)


def test_a_result_prints(visit: Visit, ferry_run: str) -> None:
    page = visit.go(f"/runs/{ferry_run}")
    quiet(visit, "run")
    page.emulate_media(media="print")
    printed = page.pdf(format="A4", print_background=True)
    assert printed.startswith(b"%PDF")
    assert 3 <= printed.count(b"/Type /Page\n") + printed.count(b"/Type /Page ") <= 40
    assert not page.locator("nav.site").is_visible()
    assert not page.locator("#extend-form").is_visible()


def test_what_somebody_wrote_is_shown_as_text(browser: Browser, site: Site) -> None:
    run = site.run_study("hostile", hostile_study(), cases=20_000)
    long = site.run_study("long-title", hostile_study("t<b>" * 50), cases=20_000)
    with visiting(browser, site) as visit:
        for address, screen in (
            ("/", "index"), ("/studies/hostile", "study"), (f"/runs/{run}", "run"), (f"/runs/{run}/try", "try"),
            (f"/runs/{long}", "run"), ("/studies/long-title", "study"),
        ):  # fmt: skip
            page = visit.go(address)
            quiet(visit, screen)
            assert (
                page.locator("main img, main b b, main i, main script:not([type='application/json'])").count() == 0
            ), address
            assert page.evaluate("() => document.documentElement.scrollWidth") <= 1280, address
        page = visit.go(f"/runs/{run}")
        assert "<img src=x onerror=alert(1)>" in page.locator("h1").inner_text()
    assert "\u202e" in TITLE


def test_pages_need_nothing_from_elsewhere(site: Site, visit: Visit, ferry_run: str) -> None:
    # The browser of these tests resolves no name; `visiting` fails where a page asks for another host at all.
    page = visit.go(f"/runs/{ferry_run}")
    quiet(visit, "run")
    policy = page.request.get(f"{site.url}/runs/{ferry_run}").headers["content-security-policy"]
    parts = dict(part.strip().split(" ", 1) for part in policy.split(";") if " " in part.strip())
    assert parts["default-src"] == "'none'"
    assert parts["script-src"] == "'self'"
    assert "unsafe" not in parts["style-src"]
    asked = json.loads(
        page.evaluate("() => JSON.stringify(performance.getEntriesByType('resource').map((one) => one.name))")
    )
    assert asked
    assert all(address.startswith(site.url) for address in asked)


@pytest.mark.parametrize(("requirements", "dispersions"), [(1, 5), (40, 60)])
def test_small_and_large_results_are_drawn(site: Site, visit: Visit, requirements: int, dispersions: int) -> None:
    run = site.run_study(f"sized-{requirements}", sized_study(requirements, dispersions), cases=20_000)
    page = visit.go(f"/runs/{run}")
    quiet(visit, "run")
    assert page.locator(".drawing[data-figure]:not(.js-plotly-plot)").count() == 0
    assert page.locator("#requirements tbody tr").count() >= requirements


def test_scripts_stay_small_and_plain() -> None:
    # practice: a page's own scripts are a fraction of the drawing library, and no file is longer than 400 lines
    scripts = sorted(FILES.glob("*.js"))
    assert scripts
    for script in scripts:
        text = script.read_text(encoding="utf-8")
        assert text.count("\n") <= 400, script.name
        assert not {"innerHTML", "eval("} & {word for word in ("innerHTML", "eval(") if word in text}, script.name
        assert text.startswith("// "), script.name
    assert sum(script.stat().st_size for script in scripts) < 200_000


def test_the_form_is_left_alone_on_a_phone(browser: Browser, site: Site) -> None:
    with visiting(browser, site, viewport={"width": 390, "height": 800}, has_touch=True) as visit:
        page = visit.write("/studies/new")
        page.locator("button[data-show=text]").click()
        page.locator("#study-text").fill(FERRY.replace("0.2 t", "0.2 kt", 1))
        visit.settled()
        page.locator("button[data-show=form]").click()
        assert not page.locator("#study-text").is_visible()
        page.locator("#issues button").first.click()
        assert "dry_mass" in str(page.evaluate("() => document.activeElement.dataset.at"))
