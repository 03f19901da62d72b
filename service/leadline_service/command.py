"""The `serve` verb."""

from __future__ import annotations

import socket
import sys
from typing import TYPE_CHECKING, Annotated

import typer
from pydantic import ValidationError

from leadline.errors import Unreachable
from leadline_service.settings import Settings

if TYPE_CHECKING:
    from fastapi import FastAPI

__all__ = ["main", "serve"]


def serve(
    host: Annotated[str, typer.Option(help="Address of this machine to listen on; loopback only.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(help="Port to listen on; 0 takes a free one.")] = 8731,
) -> None:
    """Serve Leadline over HTTP on this machine until Ctrl-C.

    Parameters
    ----------
    host
        Loopback address.
    port
        Port number; 0 lets the operating system choose.

    Raises
    ------
    typer.BadParameter
        The address can be reached from other machines, or the port is no port.
    leadline.errors.Unreachable
        The port cannot be opened.
    """
    settings = _settings(host, port)
    with _listen(settings) as listening:
        # Only now: a refused address should be told at once, and the framework takes half a second to import.
        try:
            from leadline_service.application import create_app
        except ModuleNotFoundError as error:
            typer.echo(f"Serving is not installed completely ({error}); install leadline[service].", err=True)
            raise typer.Exit(2) from error
        _run(create_app(settings), listening)


def main() -> None:
    """Run the verb as a program of its own (``python -m leadline_service``)."""
    try:
        typer.run(serve)
    except Unreachable as error:
        typer.echo(str(error), err=True)
        sys.exit(6)  # the command line's code for what is out of reach


def _settings(host: str, port: int) -> Settings:
    try:
        return Settings(host=host, port=port)
    except ValidationError as error:
        first = error.errors()[0]
        message = str(first["ctx"]["error"]) if first["type"] == "value_error" else first["msg"]
        raise typer.BadParameter(message, param_hint=f"--{first['loc'][0]}") from error


def _listen(settings: Settings) -> socket.socket:
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    try:
        return socket.create_server((settings.host, settings.port), family=family)
    except OSError as error:
        raise Unreachable(
            f"Port {settings.port} of {settings.host} cannot be opened ({error.strerror}). "
            "Choose another with --port, or --port 0 for any free one."
        ) from error


def _run(app: FastAPI, listening: socket.socket) -> None:
    import uvicorn

    host, port, *_ = listening.getsockname()
    address = f"[{host}]" if ":" in host else host
    typer.echo(f"Leadline listens on http://{address}:{port} (Ctrl-C ends it)", err=True)
    server = uvicorn.Server(uvicorn.Config(app, log_level="warning", server_header=False, timeout_graceful_shutdown=5))
    try:
        server.run(sockets=[listening])
    except KeyboardInterrupt:
        # Ctrl-C is how a server is meant to be ended, so it is no failure.
        typer.echo("Leadline has stopped listening.", err=True)
