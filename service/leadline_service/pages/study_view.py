"""What the screen that writes a study shows: the text, what is wrong with it, its versions and runs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from leadline.errors import StudyError
from leadline.report.wording import amount
from leadline.run.check import check
from leadline.study import Study, loads
from leadline_service.flaws import Flaw
from leadline_service.pages.demos import demo
from leadline_service.pages.listing import when
from leadline_service.refusals import flaws_of_issues
from leadline_service.serving import Service
from leadline_service.store.records import StudyVersion

__all__ = ["MedianMargin", "StudyView", "median_margins", "named_study", "new_study", "stored_study"]

BLANK = """leadline: 1
title:
vehicle:
legs:
requirements:
"""


@dataclass(frozen=True, slots=True)
class MedianMargin:
    """A requirement's margin in the median case, in words."""

    name: str
    text: str


@dataclass(frozen=True, slots=True)
class StudyView:
    """A study to be written; empty texts and no time for one that was never saved."""

    name: str
    version: str
    content_id: str
    title: str
    caller: str
    created: datetime | None
    text: str
    issues: tuple[Flaw, ...]
    options: tuple[str, ...]
    margins: tuple[MedianMargin, ...]

    @property
    def when(self) -> str:
        """When it was saved, in words."""
        return "" if self.created is None else when(self.created)


def new_study(demo_name: str | None) -> StudyView:
    """Return a new study, begun with a demo where one is named."""
    text = BLANK if demo_name is None else demo(demo_name).text
    # What a blank text lacks is told once something is written.
    return _view(text, None, "", looked_over=demo_name is not None)


def stored_study(service: Service, content_id: str) -> StudyView:
    """Return a new study begun with a text that is stored."""
    return _view(service.store.study(content_id).text, None, content_id)


def named_study(service: Service, named: StudyVersion) -> StudyView:
    """Return a version of a named study."""
    return _view(service.store.study(named.content_id).text, named, named.content_id)


def _view(text: str, named: StudyVersion | None, content_id: str, *, looked_over: bool = True) -> StudyView:
    study, issues = _loaded(text) if looked_over else (None, ())
    return StudyView(
        name="" if named is None else named.name,
        version="" if named is None else str(named.version),
        content_id=content_id,
        title=named.title if named is not None else "" if study is None else study.title,
        caller="" if named is None else named.caller,
        created=None if named is None else named.created,
        text=text,
        issues=issues,
        options=() if study is None else study.options,
        margins=() if study is None else median_margins(study),
    )


def _loaded(text: str) -> tuple[Study | None, tuple[Flaw, ...]]:
    try:
        return loads(text), ()
    except StudyError as error:
        return None, flaws_of_issues(error.issues)


def median_margins(study: Study) -> tuple[MedianMargin, ...]:
    """Return the margins of the case at the median of every number."""
    found = check(study).nominal.requirements
    return tuple(
        MedianMargin(each.name, "no number" if each.margin is None else amount(each.margin, each.unit))
        for each in found
    )
