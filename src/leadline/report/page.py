"""One self-contained file: style, script and data inside it, and nothing asked of a network."""

from __future__ import annotations

import base64
import hashlib
import json
import os
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from leadline.errors import OutputError
from leadline.report.palette import DARK, LIGHT, SANS, SERIF, style_variables
from leadline.report.panel import CONFIG, Panel
from leadline.report.wording import clipped, plain, unbroken
from leadline.run.result import Provenance

if TYPE_CHECKING:
    from jinja2 import Environment

__all__ = [
    "CAUTION",
    "Numbered",
    "long_names",
    "numbered",
    "provenance_facts",
    "rendered",
    "save",
    "still",
    "style_sheet",
]

HERE: Final = Path(__file__).parent

CAUTION: Final = (
    "This is a concept estimate, no substitute for qualified engineering, range safety or the responsible authority."
)
"""Said on every page, even for a result whose limits do not hold it."""

INSTALL: Final = "pip install 'leadline[report]'"

LONG_NAME: Final = 70
"""Names longer than this are cut where they stand and given in full at the end."""


@dataclass(frozen=True, slots=True)
class Numbered:
    """A panel with its number on the page."""

    number: int
    panel: Panel


def numbered(panels: Iterable[Panel], start: int = 1) -> list[Numbered]:
    """Return the panels numbered on from `start`."""
    return [Numbered(number, panel) for number, panel in enumerate(panels, start=start)]


def rendered(template: str, panels: Sequence[Panel], **context: Any) -> str:
    """Return a page from its template.

    Parameters
    ----------
    template
        File name of the template.
    panels
        Every figure on the page; the template places them.
    context
        What else the template reads; all text is escaped there.
    """
    plotly, script = _plotly_script(), _asset("figures.js")
    page = {
        "policy": _policy(plotly, script),
        "style": _trusted(style_sheet()),
        "plotly": _trusted(plotly),
        "script": _trusted(script),
        "figures": _trusted(_figure_data(panels)),
    }
    return _environment().get_template(template).render(page=page, caution=CAUTION, **context)


def still(template: str, drawings: Sequence[str], **context: Any) -> str:
    """Return a page on which nothing runs, from its template.

    Parameters
    ----------
    template
        File name of the template.
    drawings
        Every drawing on the page, as SVG text of our own making; the template places them.
    context
        What else the template reads; all text is escaped there.
    """
    page = {
        "policy": "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'",
        "style": _trusted(style_sheet()),
    }
    placed = [_trusted(drawing) for drawing in drawings]
    return _environment().get_template(template).render(page=page, drawings=placed, caution=CAUTION, **context)


def save(html: str, path: Path) -> None:
    """Write a page under a temporary name and move it into place.

    Raises
    ------
    OutputError
        If the folder cannot be written to; nothing half-written is left.
    """
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name[:80]}-", dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(html.encode("utf-8"))
            os.chmod(name, 0o644)  # noqa: PTH101 - mkstemp makes it readable by its owner only
            os.replace(name, path)  # noqa: PTH105
        except BaseException:
            os.unlink(name)  # noqa: PTH108
            raise
    except OSError as error:
        message = f"the report could not be written to {path}: {error.strerror or error}"
        raise OutputError(message) from error


@lru_cache(maxsize=1)
def _environment() -> Environment:
    # At the edge: nothing but a page needs templates, and the import costs 30 ms.
    try:
        from jinja2 import Environment, FileSystemLoader, StrictUndefined
    except ImportError as error:
        raise OutputError(f"a report needs jinja2, which is not installed: {INSTALL}") from error
    environment = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(clipped=clipped, plain=plain, unbroken=unbroken)
    return environment


def _trusted(text: str) -> Any:
    """Mark text of our own (never of a study) as needing no escape."""
    from markupsafe import Markup

    return Markup(text)  # noqa: S704 - assets of the package and JSON made safe below


@lru_cache(maxsize=4)
def _asset(name: str) -> str:
    return (HERE / "assets" / name).read_text(encoding="utf-8")


@lru_cache(maxsize=1)
def _plotly_script() -> str:
    """Return plotly.js from the installed package, which need not be imported for that."""
    spec = find_spec("plotly")
    if spec is None or not spec.submodule_search_locations:
        raise OutputError(f"a report needs plotly, which is not installed: {INSTALL}")
    folder = Path(spec.submodule_search_locations[0])
    return (folder / "package_data" / "plotly.min.js").read_text(encoding="utf-8")


@lru_cache(maxsize=1)
def style_sheet() -> str:
    """Return the style sheet with the palettes, for screens light and dark and for paper."""
    light, dark = style_variables(LIGHT), style_variables(DARK)
    return (
        f":root{{--serif:{SERIF};--sans:{SANS};{light}}}\n"
        f"@media screen and (prefers-color-scheme:dark){{:root:not([data-theme=light]){{{dark}}}}}\n"
        f"@media screen{{:root[data-theme=dark]{{{dark}}}}}\n"
        f"{_asset('report.css')}"
    )


@lru_cache(maxsize=1)
def _policy(*scripts: str) -> str:
    """Return a content policy under which only our own scripts run and nothing is fetched."""
    digests = (hashlib.sha256(script.encode("utf-8")).digest() for script in scripts)
    hashes = " ".join(f"'sha256-{base64.b64encode(digest).decode()}'" for digest in digests)
    return (
        f"default-src 'none'; script-src {hashes}; style-src 'unsafe-inline'; "
        "img-src data: blob:; base-uri 'none'; form-action 'none'"
    )


def _figure_data(panels: Sequence[Panel]) -> str:
    """Return the drawings as JSON that cannot end the script element it stands in."""
    figures = [{"id": f"{panel.div_id}-drawing", "spec": panel.spec} for panel in panels]
    text = json.dumps(
        {"config": CONFIG, "figures": figures},
        ensure_ascii=True,
        allow_nan=False,
        separators=(",", ":"),
    )
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def long_names(names: Iterable[str | None]) -> list[str]:
    """Return the names that are cut where they stand, each once."""
    known = dict.fromkeys(name for name in names if name is not None)
    return [name for name in known if len(plain(name)) > LONG_NAME]


def provenance_facts(given: Provenance, *, digest: str, seed: int, design: str) -> list[tuple[str, str]]:
    """Return what it takes to get the same numbers again, as terms and texts."""
    last = given.last_block_cases
    blocks = ", ".join(f"{start} to {stop - 1}" for start, stop in given.blocks)
    cut = "" if last is None else f"; of the last block the first {last} cases"
    versions = ", ".join(f"{name} {version}" for name, version in given.versions.items())
    return [
        ("study digest", digest),
        ("seed", str(seed)),
        ("design", design),
        ("generator", given.generator),
        ("blocks", f"{blocks}, of {given.block_size} cases each{cut}"),
        ("pilot", f"{given.pilot_cases} cases"),
        ("versions", f"{versions}; Python {given.python}"),
        ("machine", f"{given.platform}; {', '.join(given.cpu_features)}"),
    ]
