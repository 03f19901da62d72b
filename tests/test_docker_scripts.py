"""What the image and the compose file bring of their own: certificates, and the check that a role is well."""

from __future__ import annotations

import importlib.util
import shutil
import socket
import ssl
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from types import ModuleType

import pytest

from conftest import lack
from project import ROOT


def openssl(*words: str | Path) -> str:
    found = shutil.which("openssl")
    assert found is not None
    return subprocess.run([found, *words], capture_output=True, text=True, check=True).stdout


@pytest.fixture(scope="module")
def certificates(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make certificates, twice as if they had run out."""
    if shutil.which("openssl") is None:
        lack("openssl is not installed")
    return made(tmp_path_factory.mktemp("certificates") / "ours")


def made(folder: Path, *days: str) -> Path:
    subprocess.run([ROOT / "docker" / "certificates.sh", folder, *days], check=True, stderr=subprocess.DEVNULL)
    return folder


@pytest.fixture(scope="module")
def healthy() -> ModuleType:
    spec = importlib.util.spec_from_file_location("healthy", ROOT / "docker" / "healthy.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_certificates_are_signed_for_each_role_and_for_both_ends(certificates: Path) -> None:
    for role in ("scheduler", "worker", "dispatcher"):
        for purpose in ("sslserver", "sslclient"):
            openssl("verify", "-CAfile", certificates / "ca.crt", "-purpose", purpose, certificates / f"{role}.crt")
        shown = openssl("x509", "-in", certificates / f"{role}.crt", "-noout", "-text")
        assert "CA:FALSE" in shown
        assert f"DNS:{role}" in shown
    assert len({(certificates / f"{role}.key").read_bytes() for role in ("scheduler", "worker", "dispatcher")}) == 3


def test_keys_are_kept_from_others_on_this_machine(certificates: Path) -> None:
    assert certificates.stat().st_mode & 0o777 == 0o700
    assert (certificates / "ca.key").stat().st_mode & 0o777 == 0o600


def test_called_again_it_renews_certificates_and_keeps_the_authority(certificates: Path) -> None:
    names = ("ca.crt", "ca.key", "worker.crt", "worker.key")
    before = {name: (certificates / name).read_bytes() for name in names}
    made(certificates, "2")
    after = {name: (certificates / name).read_bytes() for name in names}
    assert [name for name in names if before[name] == after[name]] == ["ca.crt", "ca.key"]
    openssl("verify", "-CAfile", certificates / "ca.crt", certificates / "worker.crt")
    assert sorted(path.suffix for path in certificates.iterdir()) == [".crt"] * 4 + [".key"] * 4  # nothing else is left


def test_without_a_folder_it_says_so() -> None:
    said = subprocess.run([ROOT / "docker" / "certificates.sh"], capture_output=True, text=True, check=False)
    assert said.returncode != 0
    assert "name the folder" in said.stderr


# ------------------------------------------------------------------------------------------- the check


class Answers(BaseHTTPRequestHandler):
    """Answers 200 where it is asked whether it is ready, 503 elsewhere."""

    def do_GET(self) -> None:
        """Answer."""
        self.send_response(200 if self.path == "/health/ready" else 503)
        self.end_headers()

    def log_message(self, *_: object) -> None:
        """Say nothing."""


@pytest.fixture
def web() -> Iterator[int]:
    with HTTPServer(("127.0.0.1", 0), Answers) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield server.server_port
        server.shutdown()


def test_a_server_is_well_once_it_is_ready(healthy: ModuleType, web: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("http_proxy", "http://127.0.0.1:1")  # which must not be asked
    healthy.main([f"http://127.0.0.1:{web}/health/ready"])
    for wrong in (f"http://127.0.0.1:{web}/health", "http://127.0.0.1:1/health/ready"):
        with pytest.raises(SystemExit, match="is not well"):
            healthy.main([wrong])


@pytest.mark.parametrize(
    ("command", "asked"),
    [
        (["python", "leadline", "serve", "--host", "0.0.0.0"], "http://127.0.0.1:8731/health/ready"),
        (["leadline", "serve", "--port", "9000"], "http://127.0.0.1:9000/health/ready"),
        (["leadline", "serve", "--port=9001"], "http://127.0.0.1:9001/health/ready"),
        (["leadline", "run", "study.yaml"], None),
    ],
)
def test_whatever_runs_is_asked_where_it_listens(healthy: ModuleType, command: list[str], asked: str | None) -> None:
    assert healthy.served_here(command) == asked


def secrets(folder: Path, certificates: Path, ca: Path | None = None) -> Path:
    """Lay out a role's secrets as the compose file mounts them."""
    folder.mkdir()
    shutil.copy((ca or certificates) / "ca.crt", folder / "ca")
    shutil.copy(certificates / "worker.crt", folder / "certificate")
    shutil.copy(certificates / "worker.key", folder / "key")
    return folder


@contextmanager
def guarded(certificates: Path) -> Iterator[str]:
    """Listen as a scheduler does: TLS, a certificate asked for, and it speaks first."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificates / "scheduler.crt", certificates / "scheduler.key")
    context.load_verify_locations(certificates / "ca.crt")
    context.verify_mode = ssl.CERT_REQUIRED
    with socket.create_server(("127.0.0.1", 0)) as listens:
        thread = threading.Thread(target=_greet_one, args=(context, listens))
        thread.start()
        yield f"tls://127.0.0.1:{listens.getsockname()[1]}"
        thread.join()


def _greet_one(context: ssl.SSLContext, listens: socket.socket) -> None:
    plain, _ = listens.accept()
    with plain:
        try:
            with context.wrap_socket(plain, server_side=True) as shaken:
                shaken.sendall(b"hello")
        except OSError:  # a stranger
            return


def test_a_handshake_takes_certificates_of_one_authority(
    healthy: ModuleType, certificates: Path, tmp_path: Path
) -> None:
    strangers = made(tmp_path / "strangers")
    with guarded(certificates) as address:
        healthy.shakes_hands(address, secrets(tmp_path / "ours", certificates))
    with guarded(strangers) as address, pytest.raises(OSError, match="CERTIFICATE_VERIFY_FAILED"):
        healthy.shakes_hands(address, tmp_path / "ours")  # we do not trust them
    mixed = secrets(tmp_path / "mixed", strangers, ca=certificates)
    with guarded(certificates) as address, pytest.raises(OSError, match=r"(?i)unknown.ca|reset|hangs up"):
        healthy.shakes_hands(address, mixed)  # they do not trust us
