"""What the service may be told from outside."""

from __future__ import annotations

import ipaddress
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

__all__ = ["LoopbackHost", "Settings"]


def _loopback_only(host: str) -> str:
    """Return the host as given when it can only be reached from this machine; ValueError otherwise."""
    if host == "localhost":
        return host
    try:
        inside = ipaddress.ip_address(host).is_loopback
    except ValueError:
        inside = False
    if not inside:
        raise ValueError(
            f"Leadline has no access control yet, so it listens on this machine only: {host!r} is refused. "
            "Write 127.0.0.1, ::1 or localhost."
        )
    return host


LoopbackHost = Annotated[str, AfterValidator(_loopback_only)]
"""An address that only this machine can reach; validating anything else fails with the sentence to show."""


class Settings(BaseModel):
    """Settings of one server, checked once at the front door.

    Parameters
    ----------
    host
        Loopback address to listen on. There are no access tokens yet, so no other address is taken.
    port
        Port to listen on; 0 lets the operating system choose a free one.
    max_body_bytes
        Largest request body taken. A study is a few kilobytes of text; a million bytes leaves room for the largest.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    host: LoopbackHost = "127.0.0.1"
    port: int = Field(default=8731, ge=0, le=65535)
    max_body_bytes: int = Field(default=1_000_000, gt=0)
