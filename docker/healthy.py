#!/opt/leadline/bin/python
"""Tell by the exit code whether what a container is for works; the standard library is enough.

    healthy                         whatever process 1 is: a server is asked, anything else is well while it runs
    healthy http://HOST:PORT/PATH   an address must answer
    healthy tls://HOST:PORT         must shake hands, with this container's certificate from /run/secrets; without a
                                    host it is this container itself

One line says what is wrong, for whoever reads the container's log of checks.
"""

from __future__ import annotations

import socket
import ssl
import sys
import urllib.request
from itertools import pairwise
from pathlib import Path
from urllib.parse import urlsplit

SECRETS = Path("/run/secrets")
WITHIN_S = 4.0
PORT = "8731"


def main(words: list[str]) -> None:
    """Check what the words name, or what runs here."""
    address = words[0] if words else served_here(Path("/proc/1/cmdline").read_bytes().decode().split("\0"))
    if address is None:
        return
    try:
        answers(address) if address.startswith("http://") else shakes_hands(address, SECRETS)
    except (OSError, ValueError) as error:
        sys.exit(f"{address} is not well: {error}")


def served_here(command: list[str]) -> str | None:
    """Return where a server that was started by a command is asked; None for any other command."""
    if "serve" not in command:
        return None
    pairs = pairwise(command)
    port = next((word for option, word in pairs if option == "--port"), PORT)
    port = next((word.partition("=")[2] for word in command if word.startswith("--port=")), port)
    return f"http://127.0.0.1:{port}/health/ready"


def answers(address: str) -> None:
    """Raise OSError unless an address answers with success."""
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))  # never by way of a proxy
    opener.open(address, timeout=WITHIN_S).close()


def shakes_hands(address: str, secrets: Path) -> None:
    """Raise OSError unless whoever listens has a certificate of our authority, takes ours, and speaks."""
    context = ssl.create_default_context(cafile=secrets / "ca")
    context.check_hostname = False  # as dask: being signed by the authority is what counts
    context.load_cert_chain(secrets / "certificate", secrets / "key")
    parts = urlsplit(address)
    place = parts.hostname or socket.gethostname(), parts.port
    with socket.create_connection(place, WITHIN_S) as plain, context.wrap_socket(plain) as shaken:
        shaken.settimeout(WITHIN_S)
        if not shaken.recv(1):  # dask speaks first; with TLS 1.3 a certificate that is not taken is told of here
            raise ConnectionError("it hangs up at once")


if __name__ == "__main__":
    main(sys.argv[1:])
