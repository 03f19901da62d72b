"""How a server is reached: its address, the token, and httpx2, which is imported here only."""

from __future__ import annotations

import os
import ssl
from dataclasses import dataclass, field
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urlsplit

from leadline.client.talk import Call, Lost, Reply
from leadline.errors import RunError

if TYPE_CHECKING:
    import httpx2

__all__ = ["Connection", "arguments_of", "lost_by", "reply_of"]

CONNECT_S: Final = 5.0
ANSWER_S: Final = 60.0
"""How long the server may be silent before it is taken for gone, s; a trial may take twenty."""


@dataclass(frozen=True, slots=True)
class Connection:
    """What a client is opened with.

    Parameters
    ----------
    url
        Address of the server, such as ``https://leadline.example``.
    token
        What the server knows the caller by; None where it asks for none.
    ca
        File with the certificates of who may have signed the server's; those of the system when None.
    transport
        What carries requests in place of the network, such as an application in this process.

    Raises
    ------
    ValueError
        The address is none, or holds a password; the token holds what a header cannot.
    """

    url: str
    token: str | None = field(default=None, repr=False)
    ca: str | os.PathLike[str] | None = None
    transport: Any = None

    def __post_init__(self) -> None:
        parts = urlsplit(self.url)
        if parts.scheme not in {"http", "https"} or not parts.hostname or parts.query or parts.fragment:
            raise ValueError(f"a server's address looks like https://leadline.example, not {self.url!r}")
        if parts.username is not None or parts.password is not None:
            raise ValueError("a server's address holds no user and no password; the token is given apart from it")
        if self.token is not None and not (self.token.isascii() and self.token.isprintable() and self.token.strip()):
            raise ValueError("a token is one word of plain signs")

    @property
    def settings(self) -> dict[str, Any]:
        """What a client of httpx2 is made with.

        Raises
        ------
        RunError
            The file with certificates cannot be read.
        """
        httpx = _httpx()
        headers = {"user-agent": f"leadline/{version('leadline')}", "accept": "application/json, */*;q=0.5"}
        if self.token is not None:
            headers["authorization"] = f"Bearer {self.token}"
        return {
            "base_url": self.url.rstrip("/"),
            "headers": headers,
            "timeout": httpx.Timeout(ANSWER_S, connect=CONNECT_S),
            "follow_redirects": False,  # a token goes to nobody but the server named
            "verify": True if self.ca is None else _trusting(Path(self.ca)),
            "transport": self.transport,
        }

    def blocking(self) -> httpx2.Client:
        """Open a client that waits."""
        client: httpx2.Client = _httpx().Client(**self.settings)
        return client

    def waiting(self) -> httpx2.AsyncClient:
        """Open a client for use with ``await``."""
        client: httpx2.AsyncClient = _httpx().AsyncClient(**self.settings)
        return client


def arguments_of(call: Call) -> dict[str, Any]:
    """Return a call as httpx2 takes it."""
    query = {name: value for name, value in call.query.items() if value is not None}
    body = {"json": call.json} if call.text is None else {"content": call.text.encode()}
    return {"method": call.method, "url": call.path, "params": query, "headers": dict(call.headers)} | body


def reply_of(response: httpx2.Response) -> Reply:
    """Return an answer that was read to its end."""
    return Reply(response.status_code, response.headers, response.content)


def lost_by(error: Exception) -> Lost:
    """Return why nothing came back."""
    return Lost(str(error) or type(error).__name__)


def _httpx() -> Any:
    try:
        import httpx2  # noqa: PLC0415 - optional, and slow to import
    except ModuleNotFoundError as error:
        raise RunError("talking to a server needs httpx2; install leadline[client]") from error
    return httpx2


def _trusting(ca: Path) -> ssl.SSLContext:
    try:
        return ssl.create_default_context(cafile=ca)
    except OSError as error:  # ssl.SSLError is one
        raise RunError(f"the certificates in {ca} cannot be read: {error.strerror or error}") from error
