"""A page taken apart: its links, its scripts, its ids, its text."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

__all__ = ["Read", "read_page"]

VOID = {"meta", "link", "input", "br", "hr", "img"}


@dataclass
class Read(HTMLParser):
    """What stands in a page."""

    links: list[str] = field(default_factory=list)
    loads: list[str] = field(default_factory=list)
    ids: list[str] = field(default_factory=list)
    inline: list[str] = field(default_factory=list)
    described: list[str] = field(default_factory=list)
    labelled: list[str] = field(default_factory=list)
    tables: int = 0
    words: list[str] = field(default_factory=list)
    open: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag not in VOID:
            self.open.append(tag)
        if tag == "a":
            self.links.append(given["href"])
        if tag in {"script", "link"}:
            self.loads += [given[name] for name in ("src", "href") if name in given]
        if tag == "script" and "src" not in given:
            self.inline.append("script")
        self.inline += [name for name in given if name.startswith("on") or name == "style"]
        self.inline += [value for value in given.values() if value.lower().startswith("javascript:")]
        if tag == "style":
            self.inline.append("style")
        self.tables += tag == "table"
        self.ids += [given["id"]] if "id" in given else []
        self.described += given.get("aria-describedby", "").split()
        self.labelled += given.get("aria-labelledby", "").split() + ([given["for"]] if "for" in given else [])

    def handle_endtag(self, tag: str) -> None:
        while self.open and self.open.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    @property
    def text(self) -> str:
        """All text of the page."""
        return " ".join(" ".join(self.words).split())


def read_page(html: str) -> Read:
    """Take a page apart."""
    made = Read()
    made.feed(html)
    return made
