"""The files that a scheduler with TLS is spoken to by."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

__all__ = ["TlsFiles"]


@dataclass(frozen=True, slots=True)
class TlsFiles:
    """Three files in PEM.

    Parameters
    ----------
    ca
        Certificate of who signed the scheduler's and the workers' certificates.
    certificate, key
        Our own certificate, and its key.
    """

    ca: Path
    certificate: Path
    key: Path = field(repr=False)

    def missing(self) -> tuple[Path, ...]:
        """Return those that are no files here."""
        return tuple(path for path in (self.ca, self.certificate, self.key) if not path.is_file())
