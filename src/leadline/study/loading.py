"""Studies from files, texts and mappings."""

from __future__ import annotations

import stat
from collections.abc import Mapping
from os import PathLike
from pathlib import Path as FilePath

from leadline.errors import Issue, StudyError
from leadline.study import limits
from leadline.study.data_files import DataFolder
from leadline.study.mapping import survey
from leadline.study.reading import Reading, read
from leadline.study.study import Study

__all__ = ["from_mapping", "load", "loads"]


def load(path: str | PathLike[str]) -> Study:
    """Load a study from a YAML or JSON file.

    Parameters
    ----------
    path
        The file; data files are looked for beside it.

    Raises
    ------
    StudyError
        If it cannot be read, or with everything that is wrong with it.
    """
    file = FilePath(path)
    return loads(_text_of(file), folder=file.parent)


def loads(text: str, folder: str | PathLike[str] | None = None) -> Study:
    """Load a study from a text in YAML or JSON.

    Parameters
    ----------
    text
        The study.
    folder
        Where its data files lie; None where it may have none.

    Raises
    ------
    StudyError
        With everything that is wrong with it.
    """
    return Study.of(read(text), DataFolder(None if folder is None else FilePath(folder)), text)


def from_mapping(mapping: Mapping[str, object]) -> Study:
    """Load a study from what JSON decodes to; it has no data files.

    Raises
    ------
    StudyError
        With everything that is wrong with it.
    """
    tree, root = survey(mapping)
    return Study.of(Reading(tree, root), DataFolder(None))


def _text_of(file: FilePath) -> str:
    try:
        if not stat.S_ISREG(file.stat().st_mode):
            raise StudyError([_unreadable(file, "it is no plain file")])
        with file.open("rb") as opened:
            content = opened.read(limits.TEXT_BYTES + 1)
        return content.decode("utf-8-sig" if len(content) <= limits.TEXT_BYTES else "latin-1")
    except UnicodeDecodeError as error:
        message = f"Byte {error.start} of {file.name} is no UTF-8 text."
        raise StudyError([Issue((), message, "Save the study as UTF-8.", "not-text")]) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise StudyError([_unreadable(file, reason)]) from error


def _unreadable(file: FilePath, reason: str) -> Issue:
    message = f"The study {file} cannot be read: {reason}."
    return Issue((), message, "Give the path of a YAML or JSON file.", "unreadable")
