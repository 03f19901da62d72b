"""What a store does, and what it promises.

Times come from the clock a store was opened with. Whoever has claimed a run shows the claim's fencing number with every
write: the number grows whenever the run changes hands, so one who was thought dead, and comes back, is refused with
`LeaseLost` and changes nothing. That holds whatever the clocks say. A clock set forward ends leases early: runs are
reaped and computed by another owner, the first one's writes are refused. A clock set back delays reaping by as much.

Any method raises `StoreUnavailable` when the database does not answer. A write may then be repeated as it was: where
the first one did arrive, the second changes nothing, or says `LeaseLost` or `NotFound` of what is no longer in hand. A
claim whose answer was lost is reaped like any other.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from datetime import datetime

from leadline_service.states import RunState
from leadline_service.store.errors import Corrupt
from leadline_service.store.records import (
    Claim,
    EventRecord,
    Failure,
    FileRecord,
    Json,
    Limits,
    Page,
    RunFilter,
    RunRecord,
    StudyRecord,
    StudyVersion,
    Submission,
    Submitted,
)
from leadline_service.tokens import TokenRecord

__all__ = ["MOST_ATTEMPTS", "NO_LIMITS", "Store"]

NO_LIMITS = Limits()
MOST_ATTEMPTS = 5
"""Tries a run may lose without getting on before it counts as poison."""


class Store(ABC):
    """Studies, runs, leases, events and tokens that outlive any process.

    Safe to use from many threads and, on one database, from many processes.
    """

    # ------------------------------------------------------------------ studies

    @abstractmethod
    def put_study(self, text: str, title: str) -> StudyRecord:
        """Store a study's text, or find it stored already."""

    @abstractmethod
    def study(self, content_id: str) -> StudyRecord:
        """Return a study's text, or raise `NotFound`."""

    @abstractmethod
    def name_study(self, name: str, text: str, title: str, caller: str) -> StudyVersion:
        """Make a text the newest version of a name; the newest as it is when it has that text already."""

    @abstractmethod
    def version(self, name: str, version: int | None = None) -> StudyVersion:
        """Return one version of a name, the newest for None, or raise `NotFound`."""

    @abstractmethod
    def versions(self, name: str, cursor: str | None = None, limit: int = 50) -> Page[StudyVersion]:
        """List a name's versions, newest first; raise `NotFound`, or `BadCursor`."""

    @abstractmethod
    def studies(self, cursor: str | None = None, limit: int = 50) -> Page[StudyVersion]:
        """List the newest version of every name, by name; raise `BadCursor`."""

    @abstractmethod
    def forget_name(self, name: str) -> None:
        """Remove a name and its versions, or raise `NotFound`; texts stay as long as runs need them."""

    # ------------------------------------------------------------------ runs

    @abstractmethod
    def submit(self, wanted: Submission, key: str | None = None, limits: Limits = NO_LIMITS) -> Submitted:
        """Queue a run, or find the one that the key or the identity names, all in one transaction.

        A run is found by identity while it is queued, running or finished; not once it was cancelled, has failed or
        was deleted. One that is found needs no room within the limits.

        Raises
        ------
        KeyReused
            This caller used the key before, with another request.
        TooMany
            A limit is reached.
        NotFound
            There is no such study.
        """

    @abstractmethod
    def run(self, run_id: str) -> RunRecord:
        """Return a run as it stands, or raise `NotFound`."""

    @abstractmethod
    def runs(self, chosen: RunFilter | None = None, cursor: str | None = None, limit: int = 50) -> Page[RunRecord]:
        """List runs, newest first; runs added meanwhile move nothing. Raise `BadCursor`."""

    @abstractmethod
    def counts(self, caller: str | None = None) -> Mapping[RunState, int]:
        """Count runs by state, of one caller or of all; states without runs count 0."""

    @abstractmethod
    def cancel(self, run_id: str) -> RunRecord:
        """Ask a run to stop; an ended one stays as it is. Raise `NotFound`.

        A waiting run with nothing kept is cancelled at once; any other becomes stopping, and its owner, or whoever
        claims it next, makes what is done into a partial result.
        """

    @abstractmethod
    def delete(self, run_id: str) -> None:
        """Take an ended run out of sight, until `purge` removes it; raise `NotFound`, or `NotEnded`."""

    @abstractmethod
    def expire(self, before: datetime) -> int:
        """Delete runs that ended before a moment, forget older keys and texts nothing needs; count the runs."""

    @abstractmethod
    def condemned(self, limit: int = 100) -> tuple[str, ...]:
        """Return deleted runs whose files have still to be removed."""

    @abstractmethod
    def purge(self, run_id: str) -> None:
        """Remove what is left of a deleted run, once its files are gone; nothing if it is not there."""

    # ------------------------------------------------------------------ leases

    @abstractmethod
    def claim(self, owner: str, lease_s: float, running_per_caller: int | None = None) -> Claim | None:
        """Take over a waiting run, never one that another holds; None when there is none to take.

        Runs that only have to be stopped come first; then the caller with the fewest runs under way, then the oldest.

        Parameters
        ----------
        owner
            Who claims, for the logs.
        lease_s
            How long without a heartbeat until the run may be taken away, s.
        running_per_caller
            Most runs of one caller under way at a time; None for no limit.
        """

    @abstractmethod
    def heartbeat(self, run_id: str, fence: int, lease_s: float) -> bool:
        """Extend a lease from now, and tell whether a stop was asked; raise `LeaseLost`.

        A lease that has run out but was not reaped yet is still good.
        """

    @abstractmethod
    def commit_progress(self, run_id: str, fence: int, kept: bytes | None, progress: Json) -> bool:
        """Keep finished blocks (None leaves what is kept) and tell where the run stands; raise `LeaseLost`.

        Bytes that differ from those kept before count as getting on, and set the run's attempts to 0. The checksum is
        made here. Tells whether a stop was asked.
        """

    @abstractmethod
    def kept(self, run_id: str) -> bytes | None:
        """Return what was kept last, None for nothing; raise `NotFound`, or `Corrupt` when the checksum differs."""

    @abstractmethod
    def forget_kept(self, run_id: str, fence: int) -> None:
        """Drop what was kept, so that the run starts over, and say so in an event; raise `LeaseLost`."""

    @abstractmethod
    def finish(self, run_id: str, fence: int, outcome: Json, files: Sequence[FileRecord] = ()) -> None:
        """End a run that computed all it was asked for, with its files; raise `LeaseLost`."""

    @abstractmethod
    def stopped(self, run_id: str, fence: int, outcome: Json | None, files: Sequence[FileRecord] = ()) -> None:
        """End a run that was asked to stop, with its partial outcome or none.

        Raises
        ------
        LeaseLost
            Somebody else has it.
        MoveRefused
            Nobody asked it to stop.
        """

    @abstractmethod
    def fail(self, run_id: str, fence: int, failure: Failure) -> None:
        """End a run that can never be computed; raise `LeaseLost`."""

    @abstractmethod
    def hand_back(self, run_id: str, fence: int, *, error: str | None = None, delay_s: float = 0.0) -> RunState:
        """Give up a lease and let others claim the run after a delay; raise `LeaseLost`.

        Parameters
        ----------
        run_id, fence
            The lease.
        error
            What went wrong, if the run may be to blame: counts as a lost try, so may fail it as poison.
        delay_s
            For how long nobody may claim it, s.

        Returns
        -------
        RunState
            What became of it.
        """

    @abstractmethod
    def reap(self, limit: int = 100) -> tuple[RunRecord, ...]:
        """Take runs from owners whose lease has run out, and return them as they stand now.

        Each goes back to be claimed with one try lost. One that lost too many since it last got on fails with the code
        ``poison`` and the last error named; a stopping one is cancelled instead.
        """

    # ------------------------------------------------------------------ files and events

    @abstractmethod
    def files(self, run_id: str) -> tuple[FileRecord, ...]:
        """Return the files of a run by name, or raise `NotFound`."""

    @abstractmethod
    def add_files(self, run_id: str, files: Sequence[FileRecord]) -> None:
        """Record files made after an ended run's end, in place of those of the same name.

        Raises `NotFound`, or `NotEnded`.
        """

    @abstractmethod
    def events(self, run_id: str, after: int = 0, limit: int = 100) -> tuple[EventRecord, ...]:
        """Return a run's events beyond a number, oldest first, or raise `NotFound`."""

    # ------------------------------------------------------------------ tokens

    @abstractmethod
    def add_token(self, record: TokenRecord) -> None:
        """Keep a token's record."""

    @abstractmethod
    def token(self, token_id: str) -> TokenRecord | None:
        """Return a token's record, None where there is none: what `tokens.authenticate` asks."""

    @abstractmethod
    def tokens(self) -> tuple[TokenRecord, ...]:
        """Return every token's record, oldest first, revoked and expired ones too."""

    @abstractmethod
    def revoke_token(self, token_id: str) -> TokenRecord:
        """Make a token worthless from now on, or leave it so; raise `NotFound`."""

    # ------------------------------------------------------------------ the store itself

    @abstractmethod
    def ping(self) -> None:
        """Ask the database for an answer."""

    @abstractmethod
    def pending(self) -> tuple[str, ...]:
        """Return the migrations that have still to be made, oldest first."""

    @abstractmethod
    def close(self) -> None:
        """Let go of every connection."""

    # ------------------------------------------------------------------ the same for every store

    def take_up(self, claim: Claim) -> bytes | None:
        """Return what a claimed run can start from; what is damaged is dropped, and the run starts over.

        Where nothing was kept of it yet, the run it extends is asked.

        Raises
        ------
        LeaseLost
            Somebody else has the run.
        """
        try:
            kept = self.kept(claim.run.run_id)
        except Corrupt:
            self.forget_kept(claim.run.run_id, claim.fence)
            return None
        return kept if kept is not None or claim.run.extends is None else self.kept_before(claim.run.extends)

    @abstractmethod
    def kept_before(self, run_id: str) -> bytes | None:
        """Return what was kept of a run that another extends; None where it is gone or damaged."""
