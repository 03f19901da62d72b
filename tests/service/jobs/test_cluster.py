"""A dask cluster over TLS, workers of another build, and runs that kill workers."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from conftest import need
from leadline.errors import Unreachable
from leadline.run.engine import Computed, Request, compute
from leadline.run.executors import InProcess
from leadline.run.placement import executor_for
from leadline.run.tls_files import TlsFiles
from leadline.study import Study
from leadline_service.jobs import computing, endings
from leadline_service.jobs.dispatcher import Dispatcher
from leadline_service.states import RunState
from leadline_service.store.opening import open_store
from run.ferries import BLOCK, FERRY, Dies, ferry
from service.jobs.certificates import certificates, dask_names
from service.jobs.desk import Desk, undisturbed
from service.jobs.owners import Cluster, wait_for

need("distributed")

from leadline.run import dask_executor  # noqa: E402 - only where dask is installed


@pytest.fixture(scope="module")
def tls(tmp_path_factory: pytest.TempPathFactory) -> TlsFiles:
    return certificates(tmp_path_factory.mktemp("tls") / "ours")


@pytest.fixture(scope="module")
def guarded(tls: TlsFiles) -> Iterator[Cluster]:
    """Give a cluster that speaks TLS to whoever has a certificate."""
    with Cluster(workers=1, tls=dask_names(tls)) as cluster:
        yield cluster


def test_a_run_over_tls(desk: Desk, guarded: Cluster, tls: TlsFiles) -> None:
    place = {"scheduler": guarded.address, "scheduler_ca": tls.ca}
    place |= {"scheduler_cert": tls.certificate, "scheduler_key": tls.key}
    with Dispatcher(desk.settings.model_copy(update=place), desk.store, desk.files) as dispatcher:
        run_id = desk.submit(cases=300_000)
        assert desk.ended(run_id).state is RunState.FINISHED
        assert dispatcher.trouble is None
        assert dispatcher.metrics.workers._value.get() == 1
    assert desk.document(run_id) == undisturbed(desk.request(cases=300_000))


def test_strangers_get_nowhere(guarded: Cluster, tls: TlsFiles, tmp_path: Path) -> None:
    strange = certificates(tmp_path / "strange")
    mixed = TlsFiles(tls.ca, strange.certificate, strange.key)
    lost = TlsFiles(tls.ca, tmp_path / "nowhere.pem", tls.key)
    plain = guarded.address.replace("tls://", "tcp://")
    for address, shown in ((guarded.address, strange), (guarded.address, mixed), (plain, None)):
        with pytest.raises(Unreachable, match="no scheduler answered"):
            dask_executor.on_scheduler(address, within_s=1.5, tls=shown)
    with pytest.raises(Unreachable, match=r"cannot be spoken to without .*nowhere\.pem"):
        executor_for(scheduler=guarded.address, tls=lost)


def test_workers_of_another_build_are_refused_by_name(desk: Desk) -> None:
    with Cluster(workers=1, numpy="1.0.0") as cluster:
        settings = desk.settings.model_copy(update={"scheduler": cluster.address})
        with Dispatcher(settings, desk.store, desk.files) as dispatcher:
            run_id = desk.submit(cases=100_000)
            wait_for(lambda: "numpy 1.0.0 instead of" in str(dispatcher.trouble), 20.0, "the refusal")
            assert desk.run(run_id).failure is None  # which is no fault of the run


def test_a_worker_of_another_build_that_joins_later_computes_nothing() -> None:
    with Cluster(workers=1) as cluster:
        executor = executor_for(scheduler=cluster.address)
        cluster.add(numpy="1.0.0")
        wait_for(lambda: executor.workers == 2, 20.0, "its joining")
        with pytest.raises(Unreachable, match=r"they have numpy 1\.0\.0 instead of"):
            compute(ferry(), Request(1_500_000), executor)
        executor.close()


def test_a_run_that_kills_workers_is_isolated(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    def computed(study: Study, request: Request, executor: Any, *given: Any, **named: Any) -> Computed:
        if study.title == "Poison" and not isinstance(executor, InProcess):  # as it is when the dispatcher leaves
            list(executor.map(Dies(), [range(BLOCK)], lambda: False))
        return compute(study, request, executor, *given, **named)

    monkeypatch.setattr(computing, "compute", computed)
    monkeypatch.setattr(endings, "RETRY_S", 0.2)
    study = desk.store.put_study(FERRY.replace("A ferry out and back", "Poison"), "Poison").content_id
    with Cluster(workers=2, allowed_failures=1) as cluster:
        settings = desk.settings.model_copy(update={"scheduler": cluster.address})
        store = open_store(settings.store_url, busy_s=5.0, most_attempts=3)
        with closing(store), Dispatcher(settings, store, desk.files):
            bad = desk.submit_request(desk.request(cases=100_000).model_copy(update={"study": study}))
            good = [desk.submit(cases=300_000, seed=seed) for seed in range(2)]
            run = desk.ended(bad)
            assert run.failure is not None
            assert run.failure.code == "poison"
            assert "cases 0 to 16383 were placed on several workers and each of them died" in run.failure.message
            for seed, run_id in enumerate(good):
                assert desk.ended(run_id).state is RunState.FINISHED
                assert desk.document(run_id) == undisturbed(desk.request(cases=300_000, seed=seed))
