"""Certificates for the tests of TLS, made by openssl."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

from conftest import lack
from leadline.run.tls_files import TlsFiles

__all__ = ["certificates", "dask_names"]


def certificates(folder: Path) -> TlsFiles:
    """Make an authority, and a certificate signed by it; skip without openssl, or fail where nothing may be skipped."""
    if shutil.which("openssl") is None:
        lack("openssl is not installed")
    folder.mkdir()
    curve = ("-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-days", "2")
    _openssl(folder, "req", "-x509", *curve, "-keyout", "ca.key", "-out", "ca.pem", "-subj", "/CN=authority")
    _openssl(folder, "req", *curve, "-keyout", "own.key", "-out", "own.csr", "-subj", "/CN=leadline")
    signed = ("-CA", "ca.pem", "-CAkey", "ca.key", "-CAcreateserial", "-days", "2")
    _openssl(folder, "x509", "-req", "-in", "own.csr", *signed, "-out", "own.pem")
    return TlsFiles(folder / "ca.pem", folder / "own.pem", folder / "own.key")


def dask_names(tls: TlsFiles) -> dict[str, str]:
    """Return the files by the names dask gives them, for a scheduler and a worker."""
    return {
        "tls_ca_file": str(tls.ca),
        **{f"tls_{role}_cert": str(tls.certificate) for role in ("scheduler", "worker", "client")},
        **{f"tls_{role}_key": str(tls.key) for role in ("scheduler", "worker", "client")},
    }


def _openssl(folder: Path, *arguments: str) -> None:
    said = subprocess.run(["openssl", *arguments], cwd=folder, capture_output=True, text=True, check=False)  # noqa: S607
    assert said.returncode == 0, said.stderr
