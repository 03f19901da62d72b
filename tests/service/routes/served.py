"""A served application with its store, a token for each role, and somebody who computes runs when told to."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Event
from typing import Any

import httpx2
from fastapi import FastAPI
from fastapi.testclient import TestClient

from leadline.run.compare import compare
from leadline.run.drivers import drivers
from leadline.run.engine import Progress, compute
from leadline.run.result import Result
from leadline_service.application import create_app
from leadline_service.files import Files, open_files
from leadline_service.requests import DriversAnswer, RunRequest
from leadline_service.settings import Settings
from leadline_service.store.port import Store
from leadline_service.store.records import FileRecord, RunRecord
from leadline_service.tokens import Role, make_token
from run.ferries import FERRY
from service.stepped_clock import SteppedClock

__all__ = ["FERRY", "YAML", "Served", "serving"]

YAML = {"content-type": "application/yaml"}
PAGE = (
    '<!doctype html><meta http-equiv="Content-Security-Policy" content="default-src &#39;none&#39;; '
    'script-src &#39;sha256-abc=&#39;"><script>1</script>'
)
SETTINGS: dict[str, Any] = {"rate_burst": 1_000_000, "poll_s": 0.02, "least_free_bytes": 0}


@dataclass(frozen=True)
class Served:
    """An application under test.

    Parameters
    ----------
    app, client
        It, started, and a client of it.
    store, files, clock
        What it stands on.
    tokens
        A token for each role, of a caller named like the role.
    leaving
        Ends streams when set.
    """

    app: FastAPI
    client: TestClient
    store: Store
    files: Files
    clock: SteppedClock
    tokens: dict[str, str]
    leaving: Event

    def ask(self, method: str, path: str, role: str = "run", **more: Any) -> httpx2.Response:
        """Send one request with the token of a role."""
        headers = {"authorization": f"Bearer {self.tokens[role]}", **more.pop("headers", {})}
        return self.client.request(method, path, headers=headers, **more)

    def get(self, path: str, role: str = "read", **more: Any) -> httpx2.Response:
        """Read something."""
        return self.ask("GET", path, role, **more)

    def post(self, path: str, role: str = "run", **more: Any) -> httpx2.Response:
        """Ask for something."""
        return self.ask("POST", path, role, **more)

    def token(self, caller: str, role: str = "run") -> str:
        """Make one more token; it is used as a role of that name."""
        made = make_token(caller, Role(role), self.clock.now())
        self.store.add_token(made.record)
        self.tokens[caller] = made.text
        return caller

    def stored(self, text: str = FERRY) -> str:
        """Store a study, and return its content id."""
        answer = self.post("/v1/studies", content=text, headers=YAML)
        assert answer.status_code in {200, 201}, answer.text
        content_id: str = answer.json()["content_id"]
        return content_id

    def started(self, role: str = "run", **request: Any) -> str:
        """Ask for a run of the ferry, and return its id."""
        self.clock.step(0.01)  # identifiers sort by the time they are made, to the millisecond
        asked = {"study": self.stored(), "cases": 2_000, **request}
        answer = self.post("/v1/runs", role, json=asked)
        assert answer.status_code == 202, answer.text
        run_id: str = answer.json()["run_id"]
        return run_id

    def ended(self, **request: Any) -> str:
        """Ask for a run, compute it, and return its id."""
        run_id = self.started(**request)
        self.compute()
        return run_id

    def compute(self) -> RunRecord:
        """Compute the next run in the line, in this thread, and end it with its files."""
        claim = self.store.claim("test", 60)
        assert claim is not None
        request = RunRequest.of(claim.run.request)
        study = request.study_of(self.store.study(claim.run.study_id).text)
        written = {"report.html": PAGE.encode(), "cases/block-0000000.parquet": bytes(range(256)) * 4}
        said: dict[str, Any]
        if request.compare is not None:
            compared = compare(study, request.engine_request, options=request.compare)
            written["comparison.json"] = compared.to_json().encode()
            said = {"kind": "comparison", "cases": {"total": request.cases}}
        else:
            result = compute(study, request.engine_request).result
            written |= {"result.json": result.to_json().encode(), "margins.csv": b"requirement,chance\n"}
            said = {"kind": "result", "cases": result.cases.model_dump(), "chance": result.chance.model_dump()}
            self._tell(claim.run.run_id, claim.fence, result)
        for answer in request.answers:
            assert isinstance(answer, DriversAnswer)
            written["drivers.json"] = drivers(study, answer.extent(request.seed)).to_json().encode()
        records = [self._file(claim.run.run_id, name, data) for name, data in written.items()]
        self.store.finish(claim.run.run_id, claim.fence, said, records)
        return self.store.run(claim.run.run_id)

    def _tell(self, run_id: str, fence: int, result: Result) -> None:
        at = Progress(result.cases.total, result.cases.total, 0.5, 1e6, 0.0, result.chance)
        numbers = {"cases": at.cases, "wanted": at.wanted, "elapsed_s": at.elapsed_s, "rate_per_s": at.rate_per_s}
        chance = result.chance.model_dump(mode="json")
        told = {"answer": "chance", "stages": ["chance", "files"], **numbers, "left_s": 0.0, "chance": chance}
        self.store.commit_progress(run_id, fence, None, told)

    def _file(self, run_id: str, name: str, data: bytes) -> FileRecord:
        facts = self.files.write(f"runs/{run_id}/1/{name}", data)
        kinds = {"html": "text/html; charset=utf-8", "csv": "text/csv; charset=utf-8", "json": "application/json"}
        kind = kinds.get(name.rpartition(".")[2], "application/vnd.apache.parquet")
        return FileRecord(name, f"runs/{run_id}/1/{name}", facts.size, facts.sha256, kind)


@contextmanager
def serving(store: Store, clock: SteppedClock, folder: Path, **settings: Any) -> Iterator[Served]:
    """Serve a store."""
    files = open_files(str(folder / "files"))
    leaving = Event()
    app = create_app(Settings(data=folder, **{**SETTINGS, **settings}), store, files, clock=clock, leaving=leaving)
    tokens = {}
    for role in Role:
        made = make_token(role.value, role, clock.now())
        store.add_token(made.record)
        tokens[role.value] = made.text
    with TestClient(app, base_url="http://localhost", raise_server_exceptions=False) as client:
        yield Served(app, client, store, files, clock, tokens, leaving)
