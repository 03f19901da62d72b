"""A service with tokens, in the browser: signed in once, and the pages' scripts go by the cookie."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
from playwright.sync_api import Browser

from leadline_service.store.opening import open_store
from leadline_service.tokens import Role, make_token
from run.ferries import FERRY
from service.pages.browsing import Site, serving, visiting


@pytest.fixture(scope="module")
def guarded(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Site, str]]:
    """Serve a service that takes tokens, and return one that may run."""
    folder = tmp_path_factory.mktemp("guarded") / "data"
    with serving(folder) as site:
        made = make_token("ada", Role.RUN, datetime.now(UTC))
        store = open_store(f"sqlite:///{folder / 'leadline.db'}")
        store.add_token(made.record)
        store.close()
        yield site, made.text


def test_somebody_signs_in_and_works(browser: Browser, guarded: tuple[Site, str]) -> None:
    site, secret = guarded
    with visiting(browser, site) as visit:
        visit.awaited = ("401", "403")
        page = visit.go("/studies/new")
        page.wait_for_url(re.compile("sign-in"))
        page.locator("#token").fill("not a token")
        page.get_by_role("button", name="Sign in").click()
        assert "no token" in page.locator("main").inner_text()
        page.locator("#token").fill(secret)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url(re.compile("/studies/new"))
        visit.settled()
        page.locator("#study-text").fill(FERRY)
        visit.settled()
        page.locator("#study-name").fill("guarded")
        page.locator("#run-cases").fill("20000")
        page.locator("#run").click()
        page.wait_for_selector("html[data-drawn]")
        assert "ada" in page.locator("nav.site").inner_text()
        assert secret not in page.content()
        assert page.evaluate("() => document.cookie") == ""  # no script reads it
        page.get_by_role("button", name=re.compile("out")).click()
        page.wait_for_url(re.compile("sign-in"))


def test_a_page_left_open_says_what_is_wrong_once_nobody_is_signed_in(
    browser: Browser, guarded: tuple[Site, str]
) -> None:
    site, secret = guarded
    with visiting(browser, site) as visit:
        visit.awaited = ("401", "403")
        page = visit.go("/sign-in?next=/studies/new")
        page.locator("#token").fill(secret)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url(re.compile("/studies/new"))
        visit.settled()
        page.context.clear_cookies()
        page.locator("#study-text").fill(FERRY)
        page.wait_for_function("() => document.getElementById('problem').textContent !== ''")
        assert "token" in page.locator("#problem").inner_text().lower()
        page.reload()
        page.locator("#token").fill(secret)
        page.get_by_role("button", name="Sign in").click()
        visit.settled()
        assert page.locator("#study-text").input_value() == FERRY  # the draft was kept
