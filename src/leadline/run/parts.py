"""Every case of a run as Parquet, one part for each block, units in the fields' metadata.

A part is named by its block, so writing it twice, or again when a run goes on, changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from leadline.budget import Outcome
from leadline.errors import RunError
from leadline.run.endings import first_failed_checks, succeeded_cases, valid_cases
from leadline.run.whole_file import whole_file
from leadline.run.work import Prepared

__all__ = ["part_name", "write_part"]

Array = npt.NDArray[np.float64]

Codes = npt.NDArray[np.intp]

START = "start"
STATES = ("succeeds", "fails", "invalid")


def part_name(block: int) -> str:
    """Return the file name of a block's part."""
    return f"block-{block:07d}.parquet"


def write_part(folder: str, ready: Prepared, block: int, columns: Array, outcome: Outcome) -> None:
    """Write the cases of one block.

    Columns: ``case``, every input by its name, ``margin.NAME`` for every requirement, ``state``,
    and ``fails_first`` and ``fails_after`` (requirement and leg of the first failed check, null
    where there is none).

    Parameters
    ----------
    folder
        Where to, on a disk that every worker shares.
    ready
        The study made ready.
    block
        The block's number.
    columns : (d, n)
        The inputs' values.
    outcome
        What became of the n cases.

    Raises
    ------
    RunError
        pyarrow is not installed.
    OutputError
        The part cannot be written.
    """
    try:
        from pyarrow import parquet
    except ImportError as error:
        raise RunError("keeping cases needs pyarrow; install leadline[tables]") from error

    Path(folder).mkdir(parents=True, exist_ok=True)
    table = _table(ready, block, columns, outcome)
    with whole_file(Path(folder) / part_name(block)) as temporary:
        parquet.write_table(table, temporary)


def _table(ready: Prepared, block: int, columns: Array, outcome: Outcome) -> Any:
    import pyarrow as pa

    first = block * ready.sampler.block_size
    parts: list[tuple[str, Any, str]] = [("case", np.arange(first, first + columns.shape[1], dtype=np.int64), "")]
    inputs = zip(ready.study.inputs, columns, strict=True)
    margins = zip(ready.plan.requirements, outcome.margins, strict=True)
    parts += [(each.name, values, "SI") for each, values in inputs]
    parts += [(f"margin.{label.name}", values, label.unit) for label, values in margins]
    parts += [(name, _words(codes, names), "") for name, codes, names in _endings(ready, outcome)]
    arrays = [pa.array(values) for _, values, _ in parts]
    fields = [
        pa.field(name, array.type, metadata={"unit": unit} if unit else None)
        for (name, _, unit), array in zip(parts, arrays, strict=True)
    ]
    about = {"study": ready.study.digest, "block": str(block)}
    return pa.Table.from_arrays(arrays, schema=pa.schema(fields, metadata=about))


def _words(codes: Codes, names: list[str]) -> Any:
    """Give a dictionary array of words; a code below 0 is null."""
    import pyarrow as pa

    indices = pa.array(codes.astype(np.int32), mask=codes < 0)
    return pa.DictionaryArray.from_arrays(indices, pa.array(names, pa.string()))


def _endings(ready: Prepared, outcome: Outcome) -> Iterator[tuple[str, Codes, list[str]]]:
    """Give how every case ended and its first failed check, as codes into words."""
    plan = ready.plan
    succeeded = succeeded_cases(outcome.margins)
    yield "state", np.where(succeeded, 0, np.where(valid_cases(outcome.margins), 1, 2)), list(STATES)
    failed = first_failed_checks(outcome)
    requirements = [plan.requirements[check.requirement].name for check in plan.checks]
    legs = [plan.legs[check.leg] if check.leg >= 0 else START for check in plan.checks]
    for name, words in (("fails_first", requirements), ("fails_after", legs)):
        unique = list(dict.fromkeys(words))
        place = np.array([*(unique.index(word) for word in words), -1])
        yield name, place[failed], unique
