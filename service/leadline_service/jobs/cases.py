"""Every case of a run as Parquet files, flown again from its blocks where the files are written.

So no worker needs a disk that it shares with this process; a block's cases are the same wherever they are flown.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from leadline.errors import RunError
from leadline.run.blocks import Spans
from leadline.run.parts import part_name, write_part
from leadline.run.work import Prepared, fly_block

__all__ = ["BLOCKS_PER_PART", "CaseParts", "part_file"]

BLOCKS_PER_PART = 64
"""About a million cases of independent draws in one file, a row group for each block."""


def part_file(part: int) -> str:
    """Return the name of the file that holds the blocks from ``64 part`` on."""
    return f"cases/part-{part:05d}.parquet"


@dataclass(frozen=True, slots=True)
class CaseParts:
    """The cases of a run.

    Parameters
    ----------
    ready
        What they are flown with.
    spans
        The blocks in the run.
    last_block_cases
        How many cases of the last block are in it; None for all.
    """

    ready: Prepared
    spans: Spans
    last_block_cases: int | None

    def parts(self) -> tuple[int, ...]:
        """Return the numbers of the files to be written."""
        return tuple(sorted({block // BLOCKS_PER_PART for block in self._blocks()}))

    def write(self, part: int, path: Path, stopped: Callable[[], bool]) -> int:
        """Write one file, and return how many cases are in it.

        Raises
        ------
        RunError
            Stopped before it was complete, or pyarrow is not installed.
        OutputError
            It cannot be written.
        """
        blocks = [block for block in self._blocks() if block // BLOCKS_PER_PART == part]
        with tempfile.TemporaryDirectory(prefix="leadline-", dir=path.parent) as folder:
            for block in blocks:
                if stopped():
                    raise RunError("stopped before every case was written")
                self._fly(folder, block)
            _join([Path(folder) / part_name(block) for block in blocks], path)
        return sum(self._cases_in(block) for block in blocks)

    def _fly(self, folder: str, block: int) -> None:
        columns, outcome = fly_block(self.ready, block, self._cases_in(block))
        first = block * self.ready.sampler.block_size
        write_part(folder, self.ready.case_table, block, first, columns, outcome)

    def _blocks(self) -> Iterator[int]:
        return (block for low, high in self.spans for block in range(low, high))

    def _cases_in(self, block: int) -> int:
        is_cut = self.last_block_cases is not None and block == self.spans[-1][1] - 1
        return self.last_block_cases if is_cut and self.last_block_cases else self.ready.sampler.block_size


def _join(parts: list[Path], path: Path) -> None:
    from pyarrow import parquet  # noqa: PLC0415 - optional; write_part has told by now if it is not there

    schema = parquet.read_schema(parts[0])
    about = {key: value for key, value in schema.metadata.items() if key != b"block"}
    with parquet.ParquetWriter(path, schema.with_metadata(about)) as writer:
        for part in parts:
            writer.write_table(parquet.read_table(part).replace_schema_metadata(about))
