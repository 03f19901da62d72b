"""A page read strictly: elements with their attributes and text, and whether every tag is closed."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}


@dataclass
class Element:
    tag: str
    attributes: dict[str, str]
    children: list[Element] = field(default_factory=list)
    parts: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        return "".join(self.parts)

    def all(self, tag: str, **attributes: str) -> list[Element]:
        """Return every element below of this tag whose attributes have these values (`class_` for class)."""
        wanted = {name.rstrip("_").replace("_", "-"): value for name, value in attributes.items()}
        return [
            element
            for element in self.below()
            if element.tag == tag and all(element.attributes.get(name) == value for name, value in wanted.items())
        ]

    def below(self) -> list[Element]:
        return [found for child in self.children for found in (child, *child.below())]


class Page(HTMLParser):
    """The tree of a page; a tag closed out of turn or never is a ValueError."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.top = Element("", {})
        self.open = [self.top]
        self.feed(html)
        self.close()
        if len(self.open) != 1:
            raise ValueError(f"never closed: {[element.tag for element in self.open[1:]]}")

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        if len(set(names)) != len(names):
            raise ValueError(f"<{tag}> gives an attribute twice: {names}")
        element = Element(tag, {name: value or "" for name, value in attrs})
        self.open[-1].children.append(element)
        if tag not in VOID:
            self.open.append(element)

    def handle_endtag(self, tag: str) -> None:
        if self.open[-1].tag != tag:
            raise ValueError(f"</{tag}> closes <{self.open[-1].tag}>")
        self.open.pop()

    def handle_data(self, data: str) -> None:
        for element in self.open:
            element.parts.append(data)

    @property
    def drawings(self) -> dict[str, Any]:
        """What the page's script is told to draw."""
        (data,) = self.top.all("script", type="application/json")
        told: dict[str, Any] = json.loads(data.text)
        return told


def table_values(table: Element) -> list[list[float]]:
    """Return the exact numbers of each row of a table's body."""
    (body,) = table.all("tbody")
    return [[float(number.attributes["value"]) for number in row.all("data")] for row in body.all("tr")]
