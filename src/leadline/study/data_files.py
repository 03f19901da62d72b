"""Columns of CSV files that lie beside a study.

A study may come from anyone, so a file's name must stay inside the study's folder, whatever
links it follows, and the file must be a plain one of modest size.
"""

from __future__ import annotations

import csv
import os
import stat
from dataclasses import dataclass, field
from io import StringIO
from pathlib import Path as FilePath
from pathlib import PurePosixPath, PureWindowsPath

from leadline.errors import Issue
from leadline.study import limits
from leadline.study.suggest import meant, shortened

__all__ = ["DataFolder"]

_BESIDE = "Name a CSV file in the study's folder or below it, such as data/engine_runs.csv."


@dataclass(slots=True)
class DataFolder:
    """The folder that a study's data files lie in; each file is read once.

    Parameters
    ----------
    folder
        None for a study that did not come from a file and so has no data files.
    """

    folder: FilePath | None
    tables: dict[str, list[list[str]]] = field(default_factory=dict)
    columns: dict[tuple[str, str], list[str]] = field(default_factory=dict)

    def column(self, name: str, column: str) -> list[str] | Issue:
        """Read the texts of one column, or say why it cannot be read."""
        if (name, column) not in self.columns:
            table = self._table(name)
            values = table if isinstance(table, Issue) else _column(table, column)
            if isinstance(values, Issue):
                return values
            total = len(values) + sum(len(known) for known in self.columns.values())
            if total > limits.DATA_VALUES:
                message = f"With this column the study takes {total} values from files."
                return _refused("column", message, f"Thin them out to {limits.DATA_VALUES} in all.")
            self.columns[name, column] = values
        return self.columns[name, column]

    def _table(self, name: str) -> list[list[str]] | Issue:
        if name not in self.tables:
            text = self._text(name)
            if isinstance(text, Issue):
                return text
            try:
                rows = list(csv.reader(StringIO(text, newline=""), strict=True))
            except csv.Error as error:
                return _refused(
                    "data", f"{shortened(name)} is no CSV table: {error}.", "Save it as CSV with a header line."
                )
            self.tables[name] = rows
        return self.tables[name]

    def _text(self, name: str) -> str | Issue:
        if self.folder is None:
            message = "This study did not come from a file, so there is no folder to read data from."
            return _refused("data", message, "Write {law: data, values: [...], unit: ...} with the values themselves.")
        if not _plain(name):
            return _refused("data", f'"{shortened(name)}" leads out of the study\'s folder.', _BESIDE)
        try:
            return self._bytes(self.folder, name).decode("utf-8-sig")
        except UnicodeDecodeError:
            return _refused("data", f"{shortened(name)} is not UTF-8 text.", "Save it as UTF-8.")
        except (OSError, RuntimeError) as error:  # Python 3.11 and 3.12 tell of a loop of links as RuntimeError
            reason = getattr(error, "strerror", None) or "its links lead nowhere"
            return _refused("data", f"{shortened(name)} cannot be read: {reason}.", _BESIDE)

    @staticmethod
    def _bytes(folder: FilePath, name: str) -> bytes:
        inside = folder.resolve()
        target = (inside / name).resolve(strict=True)
        if not target.is_relative_to(inside):
            raise OSError(None, "it lies outside the study's folder")
        # Opened without following links or waiting, so that what was checked is what is read.
        descriptor = os.open(target, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
        with os.fdopen(descriptor, "rb") as file:
            status = os.fstat(descriptor)
            if not stat.S_ISREG(status.st_mode):
                raise OSError(None, "it is no plain file")
            content = file.read(limits.DATA_BYTES + 1)
        if len(content) > limits.DATA_BYTES:
            raise OSError(None, f"it has more than {limits.DATA_BYTES // 1024} KiB")
        return content


def _plain(name: str) -> bool:
    """Whether a name is relative and goes down only, on any system."""
    if "\x00" in name or "\\" in name or not name.strip():
        return False
    posix, windows = PurePosixPath(name), PureWindowsPath(name)
    return not posix.is_absolute() and not windows.drive and not windows.root and ".." not in posix.parts


def _column(rows: list[list[str]], column: str) -> list[str] | Issue:
    header = [cell.strip() for cell in rows[0]] if rows else []
    if column not in header:
        return _refused("column", f'The file has no column "{shortened(column)}".', meant(column, header, "Columns"))
    if header.count(column) > 1:
        return _refused("column", f'The file has two columns "{shortened(column)}".', "Give each its own name.")
    position = header.index(column)
    values = []
    for row_number, row in enumerate(rows[1:], start=2):
        if not row:
            continue
        if position >= len(row) or not row[position].strip():
            message = f'Row {row_number} of the file has nothing under "{shortened(column)}".'
            return _refused("column", message, "Fill it in or take the row out.")
        values.append(row[position].strip())
    return values


def _refused(key: str, message: str, remedy: str) -> Issue:
    return Issue((key,), message, remedy, "data-file")
