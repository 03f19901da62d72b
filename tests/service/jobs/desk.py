"""A store with a study in it, runs submitted there and what became of them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from leadline.run.engine import compute
from leadline_service.files import Files, open_files
from leadline_service.requests import RunRequest
from leadline_service.settings import Settings
from leadline_service.store.migrating import migrate
from leadline_service.store.opening import open_store
from leadline_service.store.port import Store
from leadline_service.store.records import RunRecord, Submission
from run.ferries import FERRY
from service.jobs.owners import wait_for

__all__ = ["Desk", "opened_desk", "undisturbed"]


@dataclass(frozen=True, slots=True)
class Desk:
    """Where tests submit runs and read what became of them."""

    settings: Settings
    store: Store
    files: Files
    study: str

    def request(self, **asked: Any) -> RunRequest:
        """Return a request for the study of the tests."""
        return RunRequest(study=self.study, **asked)

    def submit(self, caller: str = "ana", extends: str | None = None, **asked: Any) -> str:
        """Submit a run, and return its identifier."""
        return self.submit_request(self.request(**asked), caller, extends)

    def submit_request(self, request: RunRequest, caller: str = "ana", extends: str | None = None) -> str:
        """Submit a run as asked for in a request, and return its identifier."""
        identity = request.identity(request.study_of(self.store.study(request.study).text))
        wanted = Submission(caller, request.study, request.document, identity, request.most_cases, extends)
        return self.store.submit(wanted).run.run_id

    def run(self, run_id: str) -> RunRecord:
        """Return a run as it stands."""
        return self.store.run(run_id)

    def ended(self, run_id: str, within_s: float = 60.0) -> RunRecord:
        """Wait for a run's end, and return it."""
        wait_for(lambda: self.store.run(run_id).has_ended, within_s, f"the end of {run_id}")
        return self.store.run(run_id)

    def document(self, run_id: str, name: str = "result.json") -> str:
        """Return a file of a run, which is what was written."""
        record = next(each for each in self.store.files(run_id) if each.name == name)
        data = b"".join(self.files.read(record.path))
        assert len(data) == record.size
        return data.decode()

    def names(self, run_id: str) -> set[str]:
        """Return what files a run has."""
        return {record.name for record in self.store.files(run_id)}


def opened_desk(folder: Path, store_url: str | None = None, text: str = FERRY, **settings: Any) -> Desk:
    """Open a store, made if need be, with a study in it."""
    made = Settings(data=folder, store=store_url, **settings)
    folder.mkdir(exist_ok=True)
    migrate(made.store_url)
    store = open_store(made.store_url, busy_s=2.0)
    return Desk(made, store, open_files(made.files_place), store.put_study(text, "A ferry").content_id)


@lru_cache(maxsize=64)
def _undisturbed(request: str, text: str) -> str:
    asked = RunRequest.of(json.loads(request))
    return compute(asked.study_of(text), asked.engine_request).result.to_json()


def undisturbed(request: RunRequest, text: str = FERRY) -> str:
    """Return the result of a request computed here in one go, as its file's text."""
    plain = request.model_copy(update={"answers": (), "keep_cases": False})
    return _undisturbed(json.dumps(plain.document), text)
