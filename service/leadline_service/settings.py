"""What the service may be told from outside."""

from __future__ import annotations

import ipaddress
from pathlib import Path
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

__all__ = ["Host", "Settings", "is_loopback"]


def is_loopback(host: str) -> bool:
    """Tell whether an address can only be reached from this machine."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _address(host: str) -> str:
    """Return the host as given when it is an address; ValueError otherwise."""
    if host == "localhost":
        return host
    try:
        ipaddress.ip_address(host)
    except ValueError:
        raise ValueError(
            f"{host!r} is no address. Write 127.0.0.1, ::1 or localhost to be reached from this machine only, "
            "0.0.0.0 or :: for all its networks, or the address of one."
        ) from None
    return host


Host = Annotated[str, AfterValidator(_address)]
"""An address to listen on; validating anything else fails with the sentence to show."""

Count = Annotated[int, Field(ge=1)]
Seconds = Annotated[float, Field(gt=0, allow_inf_nan=False)]


class Settings(BaseModel):
    """Settings of one server, checked once at the front door.

    Parameters
    ----------
    host
        Address to listen on. One that other machines reach is served only once there are access tokens.
    port
        Port to listen on; 0 lets the operating system choose a free one.
    data
        Folder for the database and the files, where `store` and `files` do not say otherwise.
    store, files
        URL of the database, and folder or fsspec URL of the files.
    compute
        Whether this server computes runs itself; otherwise another process on the same store does.
    workers, scheduler
        Worker processes to compute in, or a dask scheduler's address; with neither, threads of this server.
    scheduler_ca, scheduler_cert, scheduler_key
        Files with what a ``tls://`` scheduler is known by and what it knows this server by: the certificate of who
        signed both, this server's certificate, and its key.
    runs_at_once, runs_at_once_per_caller
        Runs this server computes at a time, and most of them for one caller on all servers together.
    lease_s
        How long a run waits for a server that has died before another takes it over, s.
    keep_days
        Ended runs are deleted so long after their end; None keeps them.
    max_body_bytes, max_depth
        Largest request body taken, and lists and objects within one another in it. A study is a few kilobytes of text;
        a million bytes leaves room for the largest.
    request_s, stream_s
        How long a request may take without a byte of the answer, and how long a stream of events may last, s.
    heartbeat_s, poll_s
        How often a quiet stream says that it is alive, and how often the store is asked for what is new, s.
    streams
        Streams of events at once.
    rate_per_s, rate_burst
        Requests a caller may make in the long run, and at once.
    trial_s, trials_at_once, trials_waiting
        How long may be computed while a caller waits, how many at once, how many in line.
    warm_bytes, warm_s
        Memory for studies kept warm for trying changes, bytes, and how long one is kept unused, s.
    most_cases, most_run_s
        Largest run taken, and the longest by its estimate.
    queued_per_caller, queued_total, retry_after_s
        Runs that may wait, and when a caller who was refused should try again.
    least_free_bytes
        Room on the disk below which the service is not ready.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    host: Host = "127.0.0.1"
    port: int = Field(default=8731, ge=0, le=65535)
    data: Path = Path("leadline-data")
    store: str | None = Field(default=None, repr=False)  # may hold a password
    files: str | None = Field(default=None, repr=False)
    compute: bool = True
    workers: Count | None = None
    scheduler: str | None = None
    scheduler_ca: Path | None = None
    scheduler_cert: Path | None = None
    scheduler_key: Path | None = None
    runs_at_once: Count = 4
    runs_at_once_per_caller: Count | None = None
    lease_s: Seconds = 15.0
    keep_days: Seconds | None = None
    max_body_bytes: Count = 1_000_000
    max_depth: Count = 32
    request_s: Seconds = 30.0
    stream_s: Seconds = 6 * 3600.0
    heartbeat_s: Seconds = 10.0
    poll_s: Seconds = 0.25
    streams: Count = 200
    rate_per_s: Seconds = 50.0
    rate_burst: Count = 300
    trial_s: Seconds = 20.0
    trials_at_once: Count = 2
    trials_waiting: Annotated[int, Field(ge=0)] = 8
    warm_bytes: Count = 600_000_000
    warm_s: Seconds = 900.0
    most_cases: Count = 10**12
    most_run_s: Seconds = 7 * 86_400.0
    queued_per_caller: Count = 200
    queued_total: Count = 1_000
    retry_after_s: Count = 10
    least_free_bytes: Annotated[int, Field(ge=0)] = 200_000_000

    @property
    def is_loopback(self) -> bool:
        """Whether only this machine reaches the service."""
        return is_loopback(self.host)

    @property
    def store_url(self) -> str:
        """Where the database is."""
        return self.store or f"sqlite:///{self.data / 'leadline.db'}"

    @property
    def files_place(self) -> str:
        """Where files are kept."""
        return self.files or str(self.data / "files")
