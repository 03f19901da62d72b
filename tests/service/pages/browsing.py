"""The service really served on a loopback port, and a real browser that can reach nothing else."""

from __future__ import annotations

import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import httpx2
import uvicorn
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Locator, Page, Request, sync_playwright
from playwright.sync_api import Error as Cut

from conftest import lack, need
from leadline_service.application import create_app
from leadline_service.jobs.dispatcher import Dispatcher
from leadline_service.jobs.metrics import JobMetrics
from leadline_service.settings import Settings
from leadline_service.store.migrating import migrate

__all__ = ["SEEN_MS", "Site", "Visit", "chromium", "grave", "opened", "serving", "visiting"]

SEEN_MS: Final = 15_000
"""How long a test waits for what must appear; a busy machine takes its time."""

ARGUMENTS: Final = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
)
CUT: Final = "ERR_NETWORK_CHANGED"
"""Said by the browser of requests that it gives up as somebody makes or removes a network interface of this machine,
which other tests do."""

WATCHED: Final = """
window.violations = [];
document.addEventListener("securitypolicyviolation", (event) =>
  window.violations.push(`${event.violatedDirective}: ${event.blockedURI} ${event.sourceFile}:${event.lineNumber}`));
"""


@dataclass(frozen=True)
class Site:
    """A service that is being served.

    Parameters
    ----------
    url
        Its address without a slash at the end.
    """

    url: str

    def put_study(self, name: str, text: str) -> dict[str, Any]:
        """Save a study under a name, past the page."""
        answer = httpx2.put(
            f"{self.url}/v1/names/{name}", content=text.encode(), headers={"content-type": "application/yaml"}
        )
        answer.raise_for_status()
        made: dict[str, Any] = answer.json()
        return made

    def run_study(self, name: str, text: str, **request: Any) -> str:
        """Save a study, run it to its end, and return the run's id."""
        study = self.put_study(name, text)["content_id"]
        return self.run(study, **request)

    def run(self, study: str, **request: Any) -> str:
        """Run a stored study to its end, past the page."""
        answer = httpx2.post(f"{self.url}/v1/runs", json={"study": study, "cases": 20_000, **request})
        answer.raise_for_status()
        run_id = str(answer.json()["run_id"])
        ends = time.monotonic() + 60
        while time.monotonic() < ends:
            run = httpx2.get(f"{self.url}/v1/runs/{run_id}").json()
            if run["ended"] is not None:
                assert run["state"] == "finished", run
                return run_id
            time.sleep(0.05)
        raise AssertionError(f"the run {run_id} did not end")

    def text_of(self, name: str) -> str:
        """Return the newest text of a name."""
        content = httpx2.get(f"{self.url}/v1/names/{name}").json()["content_id"]
        return str(httpx2.get(f"{self.url}/v1/studies/{content}").json()["text"])


@dataclass
class Visit:
    """Somebody looking at the pages; what the browser complained of is kept."""

    page: Page
    site: Site
    complaints: list[str] = field(default_factory=list)
    strangers: list[str] = field(default_factory=list)
    awaited: tuple[str, ...] = ()

    def go(self, path: str) -> Page:
        """Open an address of the service, again where the machine's network changed while it was loaded."""
        for _ in range(4):
            said = len(self.complaints)
            with suppress(Cut):
                self.page.goto(self.site.url + path)
                if not any(CUT in one for one in self.complaints[said:]):
                    return self.page
        raise AssertionError(f"{path} could not be loaded: {self.complaints}")

    def write(self, path: str = "/studies/new") -> Page:
        """Open the screen on which a study is written, once it has read the text."""
        page = self.go(path)
        self.settled()
        return page

    def settled(self) -> None:
        """Wait until the text and the form say the same."""
        self.page.wait_for_selector('#main[data-text="read"]', timeout=SEEN_MS)

    def at(self, *path: str | int, part: str = "") -> Locator:
        """Find what stands in the form for a path of the study."""
        mark = "[" + ",".join(f'"{step}"' if isinstance(step, str) else str(step) for step in path) + "]" + part
        return self.page.locator(f"[data-at='{mark}']:not(fieldset)").first

    def text(self) -> str:
        """Return the text as it stands."""
        return self.page.locator("#study-text").input_value()

    def line(self, start: str) -> str:
        """Return the first line that begins so, apart from what it is moved in by."""
        return next(line.strip() for line in self.text().splitlines() if line.strip().startswith(start))

    def focused(self) -> str:
        """Tell what has the focus: tag, id, and name as a reader would say it."""
        told: str = self.page.evaluate(
            "() => { const a = document.activeElement; return [a.tagName, a.id, a.getAttribute('aria-label') ?? "
            "a.textContent.trim().slice(0, 60)].join('|') }"
        )
        return told

    def at_peace(self) -> None:
        """Check that nothing was complained of and nobody else was asked."""
        violations: list[str] = self.page.evaluate("() => window.violations ?? []")
        heard = [one for one in self.complaints if not any(part in one for part in (*self.awaited, CUT))]
        found = [*heard, *self.strangers, *violations]
        assert not found, "\n".join(found)


def grave(page: Page, **options: Any) -> list[tuple[str, str]]:
    """Return what axe finds serious or critical on a page: each rule, and the first element it is broken by."""
    axe: Any = need("axe_playwright_python.sync_playwright").Axe()
    found = axe.run(page, options={"resultTypes": ["violations"], **options}).response["violations"]
    return [(one["id"], one["nodes"][0]["html"][:200]) for one in found if one["impact"] in {"serious", "critical"}]


def chromium() -> str:
    """Return the browser; skip without one, or fail where no skip is allowed."""
    found = shutil.which("chromium")
    if found is None:
        lack("chromium is not installed")
    return found


@contextmanager
def serving(folder: Path, **settings: Any) -> Iterator[Site]:
    """Serve the service with a dispatcher of its own, SQLite and files in a folder."""
    given = Settings(data=folder, rate_per_s=10_000.0, rate_burst=100_000, least_free_bytes=0, poll_s=0.05, **settings)
    folder.mkdir(exist_ok=True)
    migrate(given.store_url)
    app = create_app(
        given, computes=lambda store, files, met: Dispatcher(given, store, files, metrics=JobMetrics(met.registry))
    )
    server = uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="on", timeout_graceful_shutdown=2))
    with socket.create_server(("127.0.0.1", 0)) as listening:
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        _wait(lambda: server.started)
        yield Site(f"http://127.0.0.1:{listening.getsockname()[1]}")
        server.should_exit = True
        thread.join(timeout=20)


@contextmanager
def opened() -> Iterator[Browser]:
    """Open the browser, which resolves no other host's name."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=list(ARGUMENTS))
        yield browser
        browser.close()


@contextmanager
def visiting(browser: Browser, site: Site, **looks: Any) -> Iterator[Visit]:
    """Visit the pages with a fresh profile; at the end nothing may have been complained of."""
    context = browser.new_context(**{"viewport": {"width": 1280, "height": 900}, **looks})
    context.add_init_script(WATCHED)
    context.set_default_timeout(SEEN_MS)
    visit = _visit(context, site)
    yield visit
    visit.at_peace()
    context.close()


def _visit(context: BrowserContext, site: Site) -> Visit:
    visit = Visit(context.new_page(), site)

    def heard(message: ConsoleMessage) -> None:
        if message.type in {"error", "warning"}:
            visit.complaints.append(f"{message.type}: {message.text} {message.location}")

    def asked(request: Request) -> None:
        if not request.url.startswith((site.url, "data:", "blob:")):
            visit.strangers.append(request.url)

    visit.page.on("console", heard)
    visit.page.on("pageerror", lambda error: visit.complaints.append(f"thrown: {error}"))
    visit.page.on("request", asked)
    return visit


def _wait(until: Callable[[], bool]) -> None:
    ends = time.monotonic() + 20
    while not until():
        if time.monotonic() > ends:
            raise AssertionError("the service did not start")
        time.sleep(0.02)
