"""Every case of a run as Parquet, one part for each block, units in the fields' metadata.

A part is named by its block, so writing it twice, or again when a run goes on, changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from leadline.budget import Outcome, Plan
from leadline.errors import RunError
from leadline.run.endings import first_failed_checks, succeeded_cases, valid_cases
from leadline.run.whole_file import whole_file

__all__ = ["CaseTable", "part_name", "write_part"]

Array = npt.NDArray[np.float64]

Codes = npt.NDArray[np.intp]

START = "start"
STATES = ("succeeds", "fails", "invalid")


def part_name(block: int) -> str:
    """Return the file name of a block's part."""
    return f"block-{block:07d}.parquet"


@dataclass(frozen=True, slots=True)
class CaseTable:
    """What the columns of a part are.

    ``case``, every input by its name, ``margin.NAME`` for every requirement, ``state``, and
    ``fails_first`` and ``fails_after``: requirement and leg of the first failed check, null where
    there is none.

    Parameters
    ----------
    digest
        The study's.
    units
        The SI unit of each input by its name, in the order of the draws.
    plan
        What is flown.
    """

    digest: str
    units: Mapping[str, str]
    plan: Plan


def write_part(folder: str, table: CaseTable, block: int, first: int, columns: Array, outcome: Outcome) -> None:
    """Write the cases of one block.

    Parameters
    ----------
    folder
        Where to, on a disk that every worker shares.
    table
        What the columns are.
    block, first
        The block's number, and that of its first case.
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
    numbers = np.arange(first, first + columns.shape[1], dtype=np.int64)
    made = _table(table, block, numbers, columns, outcome)
    with whole_file(Path(folder) / part_name(block)) as temporary:
        parquet.write_table(made, temporary)


def _table(table: CaseTable, block: int, numbers: Codes, columns: Array, outcome: Outcome) -> Any:
    import pyarrow as pa

    inputs = zip(table.units.items(), columns, strict=True)
    margins = zip(table.plan.requirements, outcome.margins, strict=True)
    parts: list[tuple[str, Any, str | None]] = [
        ("case", numbers, None),
        *((name, values, unit) for (name, unit), values in inputs),
        *((f"margin.{label.name}", values, label.unit) for label, values in margins),
        *((name, _words(codes, names), None) for name, codes, names in _endings(table.plan, outcome)),
    ]
    arrays = [pa.array(values) for _, values, _ in parts]
    fields = [
        pa.field(name, array.type, metadata=None if unit is None else {"unit": unit})
        for (name, _, unit), array in zip(parts, arrays, strict=True)
    ]
    about = {"study": table.digest, "block": str(block)}
    return pa.Table.from_arrays(arrays, schema=pa.schema(fields, metadata=about))


def _words(codes: Codes, names: list[str]) -> Any:
    """Give a dictionary array of words; a code below 0 is null."""
    import pyarrow as pa

    indices = pa.array(codes.astype(np.int32), mask=codes < 0)
    return pa.DictionaryArray.from_arrays(indices, pa.array(names, pa.string()))


def _endings(plan: Plan, outcome: Outcome) -> Iterator[tuple[str, Codes, list[str]]]:
    """Give how every case ended and its first failed check, as codes into words."""
    succeeded = succeeded_cases(outcome.margins)
    yield "state", np.where(succeeded, 0, np.where(valid_cases(outcome.margins), 1, 2)), list(STATES)
    failed = first_failed_checks(outcome)
    requirements = [plan.requirements[check.requirement].name for check in plan.checks]
    legs = [plan.legs[check.leg] if check.leg >= 0 else START for check in plan.checks]
    for name, words in (("fails_first", requirements), ("fails_after", legs)):
        unique = list(dict.fromkeys(words))
        place = np.array([*(unique.index(word) for word in words), -1])
        yield name, place[failed], unique
