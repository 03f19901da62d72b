"""A client that waits for its answers."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self, TypeVar, Unpack

from leadline.client.asked import CompareFields, RunFields, StudyLike, TrialFields
from leadline.client.connection import Connection, arguments_of, lost_by, reply_of
from leadline.client.following import QUIET_S, Following
from leadline.client.outcome import Outcome
from leadline.client.talk import Lost, Patience, Pause, Reply, Talk
from leadline.client.talks import Talks
from leadline.client.wire import Event, FileInfo, Run, RunState, StoredStudy, StudyVersion, Submitted, Trial
from leadline.run.answers import DriversResult, RareResult, SizingResult, SweepResult
from leadline.run.check import CheckResult
from leadline.run.replay import CaseResult
from leadline.run.result import CompareResult, Result

if TYPE_CHECKING:
    import httpx2

__all__ = ["Client", "RunHandle"]

T = TypeVar("T")


class Client:
    """Talks to a server, and waits for what it answers; several threads may share one.

    A study is its text, the content id of a stored one, or a study that was loaded here; the last is sent in full, as
    one alternative without options.

    Parameters
    ----------
    url
        Address of the server, such as ``https://leadline.example``.
    token
        What the server knows the caller by; None where it asks for none.
    ca
        File with the certificates of who may have signed the server's; those of the system when None.
    patience_s
        How long a server that has answered before may be away, or too busy, before that is an error, s.
    transport
        What carries requests in place of the network.

    Raises
    ------
    ValueError
        The address or the token cannot be one.
    RunError
        httpx2 is not installed.
    """

    def __init__(
        self,
        url: str,
        token: str | None = None,
        *,
        ca: str | os.PathLike[str] | None = None,
        patience_s: float = 60.0,
        transport: httpx2.BaseTransport | None = None,
    ) -> None:
        connection = Connection(url, token, ca, transport)
        self.talks = Talks(Patience(url, patience_s))
        self._http = connection.blocking()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close its connections."""
        self._http.close()

    def check(self, study: StudyLike | str, option: str | None = None) -> CheckResult:
        """Have a study looked over without running it.

        Raises
        ------
        StudyError
            It cannot be used as written; all that is wrong is in it.
        """
        return self.carry(self.talks.check(study, option))

    def save(self, name: str, study: StudyLike | str) -> StudyVersion:
        """Make a study the newest version of a name; errors as `check`."""
        return self.carry(self.talks.save(name, study))

    def store(self, study: StudyLike | str) -> StoredStudy:
        """Store a study by its content; errors as `check`."""
        return self.carry(self.talks.store(study))

    def study(self, content_id: str) -> StoredStudy:
        """Fetch a stored study."""
        return self.carry(self.talks.study(content_id))

    def submit(self, study: StudyLike | str, *, key: str | None = None, **asked: Unpack[RunFields]) -> RunHandle:
        """Ask for a run; the same one asked for before is found, not computed again.

        Parameters
        ----------
        study
            What is to be run.
        key
            A word of the caller's by which the same request, sent again, is known as one; a new one when None.
        asked
            See `leadline.client.RunFields`.

        Raises
        ------
        StudyError
            The study, or what is replaced in it, cannot be used so.
        Refused
            It is too much, or may not be asked for.
        Unreachable
            Nobody answers.
        """
        return RunHandle(self, self.carry(self.talks.submit(study, asked, key)))

    def run(self, run_id: str) -> RunHandle:
        """Return the handle of a run by its identifier."""
        return RunHandle(self, self.carry(self.talks.run(run_id)))

    def runs(
        self,
        *,
        state: RunState | str | None = None,
        study: str | None = None,
        caller: str | None = None,
        page: int = 50,
    ) -> Iterator[Run]:
        """Yield runs, newest first, fetched page by page.

        Parameters
        ----------
        state, study, caller
            Only those in a state, of a study by content id or name, of a caller.
        page
            How many are fetched at a time.
        """
        chosen = {"state": None if state is None else str(state), "study": study, "caller": caller}
        cursor: str | None = None
        while True:
            found = self.carry(self.talks.runs(cursor, page, chosen))
            yield from found.items
            cursor = found.next
            if cursor is None:
                return

    def trial(self, study: StudyLike | str, **asked: Unpack[TrialFields]) -> Trial:
        """Have a small run computed at once, with what else is asked; nothing is stored. Errors as `submit`."""
        return self.carry(self.talks.trial(study, asked))

    def compare(
        self, study: StudyLike | str, options: Sequence[str] | None = None, **asked: Unpack[CompareFields]
    ) -> CompareResult:
        """Have options compared with the base at once, all of them when None; nothing is stored. Errors as `submit`."""
        return self.carry(self.talks.compare(study, {"options": options, **asked}))

    def events(self, run_id: str, after: int) -> Iterator[Event]:
        """Yield what happens to a run; see `RunHandle.events`."""
        following = Following(self.talks.patience, run_id, after)
        while not following.ended:
            yield from self._stream(following)
            time.sleep(following.pause_s)

    def carry(self, talk: Talk[T]) -> T:
        """Carry a talk to its end."""
        heard: Reply | Lost | None = None
        try:
            while True:
                step = talk.send(heard)
                heard = None
                if isinstance(step, Pause):
                    time.sleep(step.seconds)
                else:
                    heard = self._sent(arguments_of(step))
        except StopIteration as end:
            done: T = end.value
            return done
        finally:
            talk.close()

    def _sent(self, arguments: dict[str, Any]) -> Reply | Lost:
        from httpx2 import RequestError  # noqa: PLC0415 - optional, and slow to import

        try:
            return reply_of(self._http.request(**arguments))
        except RequestError as error:
            return lost_by(error)

    def _stream(self, following: Following) -> Iterator[Event]:
        """Yield the events of one stream; afterwards it is known how long to wait before the next is opened."""
        from httpx2 import EventSource, RequestError  # noqa: PLC0415 - optional, and slow to import

        try:
            with self._http.stream(**arguments_of(following.call), timeout=QUIET_S) as response:
                if response.status_code != 200:
                    response.read()
                    following.refused(reply_of(response))
                    return
                following.opened()
                for sent in EventSource(response):
                    yield from following.take(sent)
        except RequestError as error:
            following.lost(lost_by(error).reason)
            return
        following.closed()


class RunHandle:
    """A run on a server.

    Parameters
    ----------
    client
        Who asks.
    run
        The run as it was when last looked at.
    """

    def __init__(self, client: Client, run: Run) -> None:
        self.client, self.run = client, run
        self._outcome = Outcome(client.talks, run.run_id)

    def __repr__(self) -> str:
        return f"<{type(self).__name__} {self.run_id} {self.run.state}>"

    @property
    def run_id(self) -> str:
        """Its identifier."""
        return self.run.run_id

    @property
    def found(self) -> str:
        """Whether it was made by being asked for (``new``), or was there (``same-key``, ``same-run``, ``known``)."""
        return self.run.found if isinstance(self.run, Submitted) else "known"

    def state(self) -> Run:
        """Look at the run as it stands now."""
        return self._carry(self.client.talks.run(self.run_id))

    def events(self, after: int = 0) -> Iterator[Event]:
        """Yield what has happened to the run, then what happens, until it ends.

        Among it is its progress, with the chance so far and its interval. A connection that breaks off is taken up
        again, and no event is told twice.

        Parameters
        ----------
        after
            The number of the last event that is known.
        """
        return self.client.events(self.run_id, after)

    def wait(
        self, timeout_s: float | None = None, *, told: Callable[[Run], None] | None = None, every_s: float = 1.0
    ) -> Run:
        """Wait until the run has ended, however it does.

        Parameters
        ----------
        timeout_s
            How long at most, s; for ever when None.
        told
            Told how the run stands whenever it was looked at.
        every_s
            How often to look at least, s.

        Raises
        ------
        TimeoutError
            It has not ended in time.
        """
        return self._carry(self.client.talks.wait(self.run_id, timeout_s, told, every_s))

    def cancel(self) -> Run:
        """Ask the run to stop; what is done becomes a partial result."""
        return self._carry(self.client.talks.cancel(self.run_id))

    def extend(self, cases: int, *, key: str | None = None) -> RunHandle:
        """Ask for a run that adds cases to this one, which must have ended with a result; `key` as in `submit`."""
        return RunHandle(self.client, self.client.carry(self.client.talks.extend(self.run_id, cases, key)))

    def delete(self) -> None:
        """Delete the run, which must have ended, with its files."""
        self.client.carry(self.client.talks.delete(self.run_id))

    def result(self, timeout_s: float | None = None) -> Result:
        """Wait for the result: the same document, bit for bit, that a run on this machine gives.

        Raises
        ------
        RunFailed
            The run failed.
        RunError
            It was stopped before there was anything, or compares options.
        TimeoutError
            It has not ended in time.
        """
        return self.client.carry(self._outcome.result(timeout_s))

    def comparison(self, timeout_s: float | None = None) -> CompareResult:
        """Wait for the outcome of a run that compares options; errors as `result`."""
        return self.client.carry(self._outcome.comparison(timeout_s))

    def drivers(self, timeout_s: float | None = None) -> DriversResult:
        """Wait for the drivers that the run was asked for; errors as `result`."""
        return self.client.carry(self._outcome.answer(DriversResult, "drivers", 1, timeout_s))

    def rare(self, timeout_s: float | None = None) -> RareResult:
        """Wait for the rare failures that the run was asked for; errors as `result`."""
        return self.client.carry(self._outcome.answer(RareResult, "rare", 1, timeout_s))

    def sizing(self, number: int = 1, timeout_s: float | None = None) -> SizingResult:
        """Wait for a sizing that the run was asked for, by its number from 1; errors as `result`."""
        return self.client.carry(self._outcome.answer(SizingResult, "sizing", number, timeout_s))

    def sweep(self, number: int = 1, timeout_s: float | None = None) -> SweepResult:
        """Wait for a sweep that the run was asked for, by its number from 1; errors as `result`."""
        return self.client.carry(self._outcome.answer(SweepResult, "sweep", number, timeout_s))

    def files(self) -> tuple[FileInfo, ...]:
        """List the files that the run has left; there are none before it has ended."""
        return self.client.carry(self._outcome.files()).items

    def report(self, path: str | os.PathLike[str], timeout_s: float | None = None) -> Path:
        """Wait for the report and write it into a file; errors as `result`, and OutputError."""
        return self.client.carry(self._outcome.report(Path(path), timeout_s))

    def cases(self, folder: str | os.PathLike[str], timeout_s: float | None = None) -> tuple[Path, ...]:
        """Wait for the Parquet files with every case and write them into a folder; errors as `report`."""
        return self.client.carry(self._outcome.cases(Path(folder), timeout_s))

    def case(self, number: int) -> CaseResult:
        """Return one case of the run, leg by leg, by its number from 0."""
        return self.client.carry(self.client.talks.case(self.run_id, number))

    def _carry(self, talk: Talk[Run]) -> Run:
        self.run = self.client.carry(talk)
        return self.run
