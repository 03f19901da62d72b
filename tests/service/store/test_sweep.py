"""A deleted run takes its files with it, even if the sweep is interrupted."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import func, select

from leadline_service.files import FilesUnavailable, open_files, run_folder
from leadline_service.store.engine import open_database
from leadline_service.store.port import Store
from leadline_service.store.sweep import sweep
from leadline_service.store.tables import METADATA
from service.store.wanted import a_file, claimed, queued, wanted


def test_a_sweep_that_fails_goes_on_later(store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    files = open_files(str(tmp_path / "files"))
    ended = []
    for seed in range(2):
        run, claim = queued(store, seed=seed), claimed(store)
        files.write(f"{run_folder(run.run_id, claim.fence)}/result.json", b"{}")
        store.finish(run.run_id, claim.fence, {})
        ended.append(run.run_id)
    store.delete(ended[0])

    def refuse(_prefix: str) -> None:
        raise FilesUnavailable("not now")

    with monkeypatch.context() as broken:
        broken.setattr(files, "delete", refuse)
        with pytest.raises(FilesUnavailable):
            sweep(store, files)
    assert store.condemned() == (ended[0],)
    assert sweep(store, files) == 1
    assert sweep(store, files) == 0
    assert [path.name for path in (tmp_path / "files" / "runs").iterdir()] == [ended[1]]


def test_nothing_of_a_purged_run_stays_in_the_database(store: Store, store_url: str) -> None:
    run, claim = store.submit(wanted(store), "key").run, claimed(store)
    store.commit_progress(run.run_id, claim.fence, b"blocks", {})
    store.finish(run.run_id, claim.fence, {}, [a_file()])
    database = open_database(store_url)
    hanging_on = [table for table in METADATA.sorted_tables if "run_id" in table.c]
    rows = [select(func.count()).select_from(table) for table in hanging_on]
    with database.read() as connection:
        assert [connection.execute(count).scalar_one() > 0 for count in rows] == [True] * 5
    store.delete(run.run_id)
    store.purge(run.run_id)
    with database.read() as connection:
        assert [connection.execute(count).scalar_one() for count in rows] == [0] * 5
    database.close()
