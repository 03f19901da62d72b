"""One served service and one browser for the tests of the pages; every test visits with a fresh profile."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from leadline_service.store.migrating import migrate
from leadline_service.store.opening import open_store
from run.ferries import FERRY
from service.pages.browsing import Site, Visit, chromium, opened, serving, visiting
from service.routes.served import Served
from service.routes.served import serving as served_application
from service.stepped_clock import SteppedClock


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """Serve the service."""
    chromium()
    with serving(tmp_path_factory.mktemp("site") / "data") as made:
        yield made


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Open the browser."""
    with opened() as made:
        yield made


@pytest.fixture
def visit(browser: Browser, site: Site) -> Iterator[Visit]:
    """Visit the pages; a complaint of the browser fails the test."""
    with visiting(browser, site) as made:
        yield made


@pytest.fixture(scope="session")
def ferry_run(site: Site) -> str:
    """Return the id of a finished run of the ferry, saved as `ferry`."""
    return site.run_study("ferry", FERRY, answers=[{"kind": "drivers", "pairs": 1024, "cases": 20_000}])


@pytest.fixture(scope="session")
def comparison_run(site: Site) -> str:
    """Return the id of a finished run that compared the ferry's options."""
    study = site.put_study("ferry", FERRY)["content_id"]
    return site.run(study, compare=["light", "as before"])


@pytest.fixture
def served(clock: SteppedClock, tmp_path: Path) -> Iterator[Served]:
    """Return the application without a browser, with a token for each role."""
    url = f"sqlite:///{tmp_path}/pages.db"
    migrate(url)
    store = open_store(url, clock)
    with served_application(store, clock, tmp_path) as made:
        yield made
    store.close()
