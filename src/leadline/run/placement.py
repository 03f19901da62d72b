"""Where a run is computed: which executor goes with what was asked for."""

from __future__ import annotations

from leadline.errors import RunError
from leadline.run.executors import Executor, InProcess
from leadline.run.tls_files import TlsFiles

__all__ = ["executor_for"]


def executor_for(
    *,
    workers: int | None = None,
    threads: int | None = None,
    scheduler: str | None = None,
    tls: TlsFiles | None = None,
    shared: bool = False,
) -> Executor:
    """Return who does the work; with none of the three, the calling thread.

    Parameters
    ----------
    workers
        So many worker processes on this machine. A script that asks for them needs an
        ``if __name__ == "__main__"`` guard, as any that starts processes.
    threads
        So many threads in this process.
    scheduler
        Address of a running dask scheduler, such as ``tcp://10.0.0.5:8786``.
    tls
        What a ``tls://`` scheduler is spoken to by; None takes it from dask's configuration.
    shared
        Whether many runs use it at a time.

    Raises
    ------
    ValueError
        More than one of them is given.
    RunError
        dask is not installed.
    Unreachable
        The scheduler does not answer, has no worker, or its workers have another build.
    """
    if sum(given is not None for given in (workers, threads, scheduler)) > 1:
        raise ValueError("give one of workers, threads and scheduler")
    if workers is None and threads is None and scheduler is None:
        return InProcess()
    try:
        from leadline.run import dask_executor
    except ImportError as error:
        raise RunError("computing on workers needs dask; install leadline[workers]") from error
    if scheduler is not None:
        executor = dask_executor.on_scheduler(scheduler, tls=tls)
    elif threads is not None:
        executor = dask_executor.on_threads(threads)
    else:
        executor = dask_executor.on_processes(workers or 1)
    return executor.shared() if shared else executor
