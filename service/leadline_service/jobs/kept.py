"""What is kept of a run on its way, as bytes: finished blocks, and files of answers made already."""

from __future__ import annotations

import json
import zlib
from dataclasses import asdict, dataclass

from leadline.errors import OutputError
from leadline.run.engine import Kept
from leadline.run.summary import BlockSummary
from leadline_service.identifiers import canonical_json
from leadline_service.store.records import FileRecord

__all__ = ["KeptRun"]

HEAD = b"leadline run kept 1\n"
LEVEL = 1
"""A summary is mostly small counts: the fastest level takes a tenth of the bytes in less than a millisecond."""


@dataclass(frozen=True, slots=True)
class KeptRun:
    """All that a later try can go on from.

    Parameters
    ----------
    blocks
        The finished blocks of the chance; None where there are none.
    files
        Files of further answers that are complete, by name.
    """

    blocks: Kept | None = None
    files: tuple[FileRecord, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Whether there is nothing to go on from."""
        return (self.blocks is None or self.blocks.summary is None) and not self.files

    def to_bytes(self) -> bytes:
        """Write what is kept; the same gives the same bytes."""
        blocks = self.blocks
        summary = b"" if blocks is None or blocks.summary is None else blocks.summary.to_bytes()
        head = canonical_json(
            {
                "stream": None if blocks is None else blocks.stream,
                "spans": [] if blocks is None else [list(span) for span in blocks.spans],
                "files": [asdict(file) for file in self.files],
            }
        )
        return HEAD + zlib.compress(head.encode() + b"\n" + summary, LEVEL)

    @classmethod
    def from_bytes(cls, data: bytes | None) -> KeptRun:
        """Read what `to_bytes` wrote; nothing is kept where another version wrote it.

        The store has seen to it that the bytes are not damaged.
        """
        if data is None or not data.startswith(HEAD):
            return cls()
        head, _, summary = zlib.decompress(data[len(HEAD) :]).partition(b"\n")
        fields = json.loads(head)
        files = tuple(FileRecord(**file) for file in fields["files"])
        if not summary:
            return cls(None, files)
        spans = tuple((int(low), int(high)) for low, high in fields["spans"])
        try:
            return cls(Kept(fields["stream"], spans, BlockSummary.from_bytes(summary)), files)
        except OutputError:  # another version's summary
            return cls(None, files)

    def with_file(self, record: FileRecord) -> KeptRun:
        """Return the same with one more file, in place of one of that name."""
        others = (file for file in self.files if file.name != record.name)
        return KeptRun(self.blocks, tuple(sorted((*others, record), key=lambda file: file.name)))
