"""A PostgreSQL cluster of the tests' own, in a temporary folder, on a socket there."""

from __future__ import annotations

import getpass
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
from psycopg.sql import SQL, Identifier

from conftest import lack
from leadline_service.store.tables import METADATA

__all__ = ["Cluster", "empty", "running_cluster"]

USER = "leadline"
# Nothing here outlives the tests, so nothing is brought to the disk.
CHEAP = {"fsync": "off", "synchronous_commit": "off", "full_page_writes": "off", "shared_buffers": "32MB"}


class Cluster:
    """A running cluster.

    Parameters
    ----------
    programs
        Folder with initdb and pg_ctl.
    folder
        Where its data, its socket and its log are.
    settings
        Server settings.
    """

    def __init__(self, programs: Path, folder: Path, settings: dict[str, str]) -> None:
        self._programs, self._folder, self._settings = programs, folder, settings
        self._made = 0

    def create(self) -> None:
        """Make the files."""
        self._run("initdb", "--no-sync", "--no-locale", "--encoding=UTF8", "--auth=trust", f"--username={USER}")

    def start(self) -> None:
        """Start, and wait until it answers."""
        every = {"listen_addresses": "", "unix_socket_directories": str(self._folder), **self._settings}
        options = " ".join(f"-c {name}='{value}'" for name, value in every.items())
        self._run("pg_ctl", "start", "--wait", f"--log={self._folder / 'log'}", f"--options={options}")

    def stop(self, mode: str = "immediate") -> None:
        """Stop: immediate is as good as a crash, fast rolls back and says farewell."""
        self._run("pg_ctl", "stop", f"--mode={mode}")

    def url(self, database: str) -> str:
        """Return the URL of a database."""
        return f"postgresql://{USER}@/{database}?host={self._folder}"

    def new_database(self) -> str:
        """Make a database with nothing in it, and return its URL."""
        self._made += 1
        name = f"test_{self._made}"
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(SQL("CREATE DATABASE {} TEMPLATE template0").format(Identifier(name)))
        return self.url(name)

    def _run(self, program: str, *arguments: str) -> None:
        # PostgreSQL refuses to run as root; Debian's package brings a user for it.
        account = {"user": "postgres", "group": "postgres", "extra_groups": []} if os.geteuid() == 0 else {}
        command = [str(self._programs / program), f"--pgdata={self._folder / 'data'}", *arguments]
        said = subprocess.run(  # type: ignore[call-overload]  # the account's three settings, or none
            command, cwd=self._folder, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, check=False, **account
        )
        assert said.returncode == 0, said.stderr


def empty(url: str) -> None:
    """Remove every row of the store's tables; the test before must have let go of them."""
    with psycopg.connect(url, options="-c lock_timeout=5000") as connection:
        for table in reversed(METADATA.sorted_tables):
            connection.execute(SQL("DELETE FROM {}").format(Identifier(table.name)))


def _programs() -> Path:
    """Return the folder with PostgreSQL's programs, the newest where there are several, or skip."""
    packaged = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    on_path = shutil.which("initdb")
    found = [*([Path(on_path)] if on_path else []), *packaged]
    if not found:
        lack("PostgreSQL (initdb, pg_ctl) is not installed")
    return found[-1].parent


@contextmanager
def running_cluster(settings: dict[str, str] | None = None) -> Iterator[Cluster]:
    """Start a cluster, which is gone afterwards."""
    programs = _programs()
    # A socket's path may have 107 bytes, so pytest's own temporary folders are too deep; root's are closed as well.
    folder = Path(tempfile.mkdtemp(prefix="leadline-pg-"))
    shutil.chown(folder, "postgres" if os.geteuid() == 0 else getpass.getuser())
    cluster = Cluster(programs, folder, CHEAP if settings is None else settings)
    try:
        cluster.create()
        cluster.start()
        try:
            yield cluster
        finally:
            cluster.stop()
    finally:
        shutil.rmtree(folder, ignore_errors=True)
