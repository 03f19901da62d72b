"""Files that appear whole or not at all."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from leadline.errors import OutputError

__all__ = ["whole_file"]


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Give a temporary path beside a file; what is written there becomes the file at the end.

    Raises
    ------
    OutputError
        It cannot be written.
    """
    temporary = path.with_name(f".{path.name}.{uuid.uuid4().hex[:8]}")
    try:
        yield temporary
        temporary.replace(path)
    except OSError as error:
        raise OutputError(f"{path} cannot be written: {error.strerror or error}") from error
    finally:
        temporary.unlink(missing_ok=True)
