"""What a server is asked, one talk for each question."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final, TypeVar
from uuid import uuid4

from pydantic import BaseModel, ValidationError

from leadline.client.asked import StudyLike, as_sent, content_id, is_content_id, text_of
from leadline.client.problems import is_unknown_study
from leadline.client.talk import Call, Patience, Pause, Reply, Talk, ask
from leadline.client.wire import Run, RunPage, StoredStudy, StudyVersion, Submitted, Trial
from leadline.errors import LeadlineError, Unreachable
from leadline.run.check import CheckResult
from leadline.run.replay import CaseResult
from leadline.run.result import CompareResult

__all__ = ["Talks", "parsed"]

Read = TypeVar("Read", bound=BaseModel)

YAML: Final = {"content-type": "application/yaml"}
SHORTEST_LOOK_S, LOOK_SHARE, LONGEST_LOOK_S = 0.02, 0.1, 1.0
"""A run is looked at after a tenth of the time it has taken so far, within these bounds, s."""
TRIAL_S: Final = 10.0
"""For how long a trial is asked for again, s: one that is too long for the server would only be too long again."""


class Talks:
    """Makes talks with one server.

    Parameters
    ----------
    patience
        How long it is tried again.
    """

    def __init__(self, patience: Patience) -> None:
        self.patience = patience

    # ------------------------------------------------------------------ studies

    def check(self, study: StudyLike | str, option: str | None = None) -> Talk[CheckResult]:
        """Have a study looked over."""
        call = Call("POST", "/v1/studies:check", {"option": option}, YAML, text=text_of(study))
        return self.read(CheckResult, call)

    def save(self, name: str, study: StudyLike | str) -> Talk[StudyVersion]:
        """Make a text the newest version of a name."""
        return self.read(StudyVersion, Call("PUT", f"/v1/names/{name}", headers=YAML, text=text_of(study)))

    def store(self, study: StudyLike | str) -> Talk[StoredStudy]:
        """Store a text by its content."""
        return self.read(StoredStudy, Call("POST", "/v1/studies", headers=YAML, text=text_of(study)))

    def study(self, content: str) -> Talk[StoredStudy]:
        """Fetch a stored text."""
        return self.read(StoredStudy, Call("GET", f"/v1/studies/{content}"))

    # ------------------------------------------------------------------ runs

    def submit(self, study: StudyLike | str, asked: Mapping[str, Any], key: str | None) -> Talk[Submitted]:
        """Ask for a run; its study is stored first where the server does not know it."""
        text = None if is_content_id(study) else text_of(study)
        content = str(study) if text is None else content_id(text)
        call = Call("POST", "/v1/runs", headers=_key(key), json={"study": content, **as_sent(asked)})
        try:
            return (yield from self.read(Submitted, call))
        except LeadlineError as error:
            if text is None or not is_unknown_study(error):
                raise
        yield from self.store(text)
        return (yield from self.read(Submitted, call))

    def run(self, run_id: str) -> Talk[Run]:
        """Look at a run."""
        return self.read(Run, Call("GET", f"/v1/runs/{run_id}"))

    def runs(self, cursor: str | None, limit: int, chosen: Mapping[str, str | None]) -> Talk[RunPage]:
        """Fetch one page of the list of runs."""
        return self.read(RunPage, Call("GET", "/v1/runs", {"cursor": cursor, "limit": limit, **chosen}))

    def cancel(self, run_id: str) -> Talk[Run]:
        """Ask a run to stop."""
        return self.read(Run, Call("POST", f"/v1/runs/{run_id}/cancel"))

    def extend(self, run_id: str, cases: int, key: str | None) -> Talk[Submitted]:
        """Ask for a run that adds cases to an ended one."""
        call = Call("POST", f"/v1/runs/{run_id}/extend", headers=_key(key), json={"cases": cases})
        return self.read(Submitted, call)

    def delete(self, run_id: str) -> Talk[None]:
        """Delete an ended run; one that is gone already stays so."""
        yield from ask(self.patience, Call("DELETE", f"/v1/runs/{run_id}"), fine=frozenset({404}))

    def wait(
        self, run_id: str, timeout_s: float | None, told: Callable[[Run], None] | None, every_s: float
    ) -> Talk[Run]:
        """Look at a run until it has ended.

        Raises
        ------
        TimeoutError
            It has not ended in time.
        """
        began = self.patience.now()
        tag = ""
        run: Run | None = None
        while True:
            run, tag = yield from self._look(run_id, run, tag)
            if told is not None:
                told(run)
            if run.has_ended:
                return run
            taken_s = self.patience.now() - began
            if timeout_s is not None and taken_s >= timeout_s:
                raise TimeoutError(f"the run {run_id} is still {run.state} after {timeout_s:g} s")
            yield Pause(_next_look(taken_s, timeout_s, every_s))

    def _look(self, run_id: str, known: Run | None, tag: str) -> Talk[tuple[Run, str]]:
        """Look at a run, which is sent again only where it has changed."""
        headers = {"if-none-match": tag} if tag else {}
        reply = yield from ask(self.patience, Call("GET", f"/v1/runs/{run_id}", headers=headers), fine=frozenset({304}))
        if reply.status == 304 and known is not None:
            return known, tag
        return parsed(Run, reply), reply.headers.get("etag", "")

    def case(self, run_id: str, number: int) -> Talk[CaseResult]:
        """Fly one case of a run again."""
        return self.read(CaseResult, Call("GET", f"/v1/runs/{run_id}/cases/{number}"))

    # ------------------------------------------------------------------ answers that are waited for

    def trial(self, study: StudyLike | str, asked: Mapping[str, Any]) -> Talk[Trial]:
        """Have a small run computed at once."""
        call = Call("POST", "/v1/trial", json={**_named(study), **as_sent(asked)})
        return self.read(Trial, call, most_s=TRIAL_S)

    def compare(self, study: StudyLike | str, asked: Mapping[str, Any]) -> Talk[CompareResult]:
        """Have options compared at once."""
        call = Call("POST", "/v1/compare", json={**_named(study), **as_sent(asked)})
        return self.read(CompareResult, call, most_s=TRIAL_S)

    def read(self, kind: type[Read], call: Call, *, most_s: float | None = None) -> Talk[Read]:
        """Ask for a document; `most_s` bounds for how long it is asked for again.

        Raises
        ------
        Unreachable
            What answers is no server of this kind, or of another version.
        """
        reply = yield from ask(self.patience, call, most_s=most_s)
        return parsed(kind, reply)


def parsed(kind: type[Read], reply: Reply) -> Read:
    """Read a document that a server answered with.

    Raises
    ------
    Unreachable
        It is none of this kind.
    """
    try:
        return kind.model_validate_json(reply.content)
    except ValidationError as error:
        where = ".".join(str(step) for step in error.errors(include_url=False)[0]["loc"]) or "the whole"
        what = f"what answers is no Leadline server of this version: its {kind.__name__} cannot be read ({where})"
        raise Unreachable(what) from error


def _next_look(taken_s: float, timeout_s: float | None, every_s: float) -> float:
    pause_s = min(max(SHORTEST_LOOK_S, LOOK_SHARE * taken_s), every_s, LONGEST_LOOK_S)
    return pause_s if timeout_s is None else max(0.0, min(pause_s, timeout_s - taken_s))


def _named(study: StudyLike | str) -> dict[str, str]:
    return {"study": str(study)} if is_content_id(study) else {"text": text_of(study)}


def _key(key: str | None) -> dict[str, str]:
    """Return the header by which a request that is sent twice is known as one."""
    return {"idempotency-key": uuid4().hex if key is None else key}
