"""The `serve` verb."""

from __future__ import annotations

import socket
import sys
from contextlib import closing
from enum import StrEnum
from pathlib import Path
from threading import Event
from types import FrameType
from typing import TYPE_CHECKING, Annotated, Any

import typer
from pydantic import ValidationError

from leadline.errors import Unreachable
from leadline_service.settings import Settings

if TYPE_CHECKING:
    from fastapi import FastAPI

    from leadline_service.application import Computes
    from leadline_service.store.port import Store

__all__ = ["DataOption", "StoreOption", "main", "serve"]

DataOption = Annotated[Path, typer.Option(help="Folder for the database and the files.")]
StoreOption = Annotated[
    str | None,
    typer.Option(
        envvar="LEADLINE_STORE",
        show_envvar=True,
        help="URL of the database, such as postgresql://user@host/name; SQLite in the data folder if left out.",
    ),
]
FilesOption = Annotated[
    str | None,
    typer.Option(envvar="LEADLINE_FILES", show_envvar=True, help="Folder or fsspec URL of results and reports."),
]


class Only(StrEnum):
    """The one half of the service that a process may be."""

    API = "api"
    DISPATCHER = "dispatcher"


def serve(
    *,
    host: Annotated[str, typer.Option(help="Address to listen on; others than loopback take a token.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(help="Port to listen on; 0 takes a free one.")] = 8731,
    data: DataOption = Path("leadline-data"),
    store: StoreOption = None,
    files: FilesOption = None,
    compute: Annotated[bool, typer.Option(help="Compute queued runs here, or leave them to another process.")] = True,
    only: Annotated[Only | None, typer.Option(help="Answer requests only, or compute queued runs only.")] = None,
    workers: Annotated[int | None, typer.Option(help="Compute in so many processes.")] = None,
    scheduler: Annotated[str | None, typer.Option(help="Compute on a dask scheduler, tls://HOST:PORT.")] = None,
    scheduler_ca: Annotated[Path | None, typer.Option(help="Certificate of who signed the scheduler's.")] = None,
    scheduler_cert: Annotated[Path | None, typer.Option(help="This server's certificate for it.")] = None,
    scheduler_key: Annotated[Path | None, typer.Option(help="The key of that certificate.")] = None,
    runs_at_once: Annotated[int, typer.Option(help="Runs computed at a time.")] = 4,
    keep_days: Annotated[float | None, typer.Option(help="Delete runs so many days after their end.")] = None,
) -> None:
    """Serve Leadline over HTTP until Ctrl-C.

    Raises
    ------
    typer.BadParameter
        A setting cannot be used, or other machines would reach a service without tokens.
    leadline.errors.Unreachable
        The port or the store cannot be opened.
    """
    settings = _settings(
        host=host,
        port=port,
        data=data,
        store=store,
        files=files,
        compute=compute and only is not Only.API,
        workers=workers,
        scheduler=scheduler,
        scheduler_ca=scheduler_ca,
        scheduler_cert=scheduler_cert,
        scheduler_key=scheduler_key,
        runs_at_once=runs_at_once,
        keep_days=keep_days,
    )
    try:
        if only is Only.DISPATCHER:
            _dispatch(settings)
            return
        _require_protected(settings)
        with _listen(settings) as listening:
            _serve(settings, listening)
    except ModuleNotFoundError as error:
        typer.echo(f"Serving is not installed completely ({error}); install leadline[service].", err=True)
        raise typer.Exit(2) from error


def main() -> None:
    """Run the verb as a program of its own (``python -m leadline_service``)."""
    try:
        typer.run(serve)
    except Unreachable as error:
        typer.echo(str(error), err=True)
        sys.exit(6)  # the command line's code for what is out of reach


def _settings(**given: Any) -> Settings:
    try:
        return Settings(**given)
    except ValidationError as error:
        first = error.errors()[0]
        message = str(first["ctx"]["error"]) if first["type"] == "value_error" else first["msg"]
        option = str(first["loc"][0]).replace("_", "-")
        raise typer.BadParameter(message, param_hint=f"--{option}") from error


def _require_protected(settings: Settings) -> None:
    """Refuse, before the port is opened, to be reached from elsewhere without tokens."""
    if settings.is_loopback:
        return
    from leadline_service.opening import Unprotected, require_protected

    with closing(_store(settings)) as store:
        try:
            require_protected(settings, store)
        except Unprotected as error:
            raise typer.BadParameter(str(error), param_hint="--host") from error


def _store(settings: Settings) -> Store:
    from leadline_service.opening import opened_store
    from leadline_service.store.errors import StoreUnavailable

    try:
        return opened_store(settings)
    except StoreUnavailable as error:
        raise Unreachable(f"The store cannot be opened: {error}.") from error


def _listen(settings: Settings) -> socket.socket:
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    try:
        made = socket.create_server((settings.host, settings.port), family=family, backlog=512)
        # Said to be TCP, so that asyncio turns off waiting for more to send: 40 ms for every small answer.
        return socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP, fileno=made.detach())
    except OSError as error:
        raise Unreachable(
            f"Port {settings.port} of {settings.host} cannot be opened ({error.strerror}). "
            "Choose another with --port, or --port 0 for any free one."
        ) from error


def _serve(settings: Settings, listening: socket.socket) -> None:
    # Only now: a refused address should be told at once, and the framework takes half a second to import.
    from leadline_service.application import create_app
    from leadline_service.logs import set_up_logs

    set_up_logs()
    leaving = Event()
    with closing(_store(settings)) as store:
        _run(create_app(settings, store, computes=_computes(settings), leaving=leaving), listening, leaving)


def _dispatch(settings: Settings) -> None:
    from leadline_service.jobs.process import dispatch_until_told
    from leadline_service.logs import set_up_logs

    set_up_logs()
    typer.echo("Leadline computes queued runs (Ctrl-C ends it)", err=True)
    if not dispatch_until_told(settings, _store(settings)):
        raise Unreachable("The dispatcher has ended by itself; its log says why.")


def _computes(settings: Settings) -> Computes | None:
    if not settings.compute:
        return None
    from leadline_service.jobs.dispatcher import Dispatcher
    from leadline_service.jobs.metrics import JobMetrics

    return lambda store, files, metrics: Dispatcher(settings, store, files, metrics=JobMetrics(metrics.registry))


def _run(app: FastAPI, listening: socket.socket, leaving: Event) -> None:
    import uvicorn

    class Server(uvicorn.Server):
        """A server that lets streams of events end before it waits for requests to be done."""

        def handle_exit(self, sig: int, frame: FrameType | None) -> None:
            """Note that the program is to end."""
            leaving.set()
            super().handle_exit(sig, frame)

    host, port, *_ = listening.getsockname()
    address = f"[{host}]" if ":" in host else host
    typer.echo(f"Leadline listens on http://{address}:{port} (Ctrl-C ends it)", err=True)
    config = uvicorn.Config(
        app,
        log_config=None,
        log_level="warning",
        access_log=False,
        server_header=False,
        # Who asks is whoever is at the other end: a header that says otherwise could be anybody's.
        proxy_headers=False,
        timeout_graceful_shutdown=5,
    )
    server = Server(config)
    try:
        server.run(sockets=[listening])
    except KeyboardInterrupt:
        # Ctrl-C is how a server is meant to be ended, so it is no failure.
        typer.echo("Leadline has stopped listening.", err=True)
    if not server.started:
        raise Unreachable("The service could not be started; its log says why.")
