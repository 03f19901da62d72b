"""What pages load besides themselves: style, scripts, and plotly.js out of its own package.

Addresses hold a digest of all files together, so that a browser may keep them for ever and modules can import one
another by name.
"""

from __future__ import annotations

import gzip
import hashlib
import re
from dataclasses import dataclass
from functools import lru_cache
from importlib.metadata import version
from importlib.util import find_spec
from pathlib import Path
from typing import Final

from fastapi import APIRouter, Request, Response

from leadline.report.page import style_sheet
from leadline_service.conditional import is_known
from leadline_service.refusals import Refusal

__all__ = ["address_of", "plotly_address", "plotly_styles", "router"]

FOLDER: Final = Path(__file__).parent / "static"
TYPES: Final = {".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8", ".svg": "image/svg+xml"}
FOR_EVER: Final = "public, max-age=31536000, immutable"
STYLE_ID: Final = re.compile(r'getElementById\("([0-9a-f]{64})"\)')
SMALL: Final = 1_000
"""Below so many bytes packing gains nothing."""

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, slots=True)
class Asset:
    """A file as it is sent, with its packed form and its entity tag."""

    data: bytes
    packed: bytes
    media_type: str
    tag: str

    @classmethod
    def of(cls, data: bytes, suffix: str) -> Asset:
        """Make a file ready to be sent."""
        packed = gzip.compress(data, 6, mtime=0) if len(data) > SMALL else b""
        return cls(data, packed, TYPES[suffix], f'"{hashlib.sha256(data).hexdigest()[:32]}"')


def address_of(name: str) -> str:
    """Return the address of one of the pages' own files."""
    return f"/static/{_digest(_stamp())}/{name}"


@lru_cache(maxsize=1)
def plotly_address() -> str:
    """Return the address of plotly.js."""
    return f"/static/plotly-{version('plotly')}.js"


@lru_cache(maxsize=1)
def plotly_styles() -> str:
    """Return the ids of elements that plotly.js would make for its styles, were they not there already.

    It makes none of these style elements, which the pages' policy would refuse, where figures.js has put an empty
    element of that id.
    """
    return " ".join(sorted(set(STYLE_ID.findall(_plotly().data.decode("utf-8", "replace")))))


@router.get("/static/plotly-{release}.js")
def get_plotly(request: Request, release: str) -> Response:
    """Send plotly.js."""
    return _sent(request, _plotly(), lasting=release == version("plotly"))


@router.get("/static/{digest}/{name}")
def get_static(request: Request, digest: str, name: str) -> Response:
    """Send one of the pages' own files; one of another digest has to be asked for again each time."""
    stamp = _stamp()
    asset = _assets(stamp).get(name)
    if asset is None:
        raise Refusal(404)
    return _sent(request, asset, lasting=digest == _digest(stamp))


def _sent(request: Request, asset: Asset, *, lasting: bool) -> Response:
    headers = {"ETag": asset.tag, "Cache-Control": FOR_EVER if lasting else "no-cache", "Vary": "Accept-Encoding"}
    if is_known(request.headers.get("if-none-match"), asset.tag):
        return Response(status_code=304, headers=headers)
    if asset.packed and "gzip" in request.headers.get("accept-encoding", ""):
        return Response(asset.packed, headers={**headers, "Content-Encoding": "gzip"}, media_type=asset.media_type)
    return Response(asset.data, headers=headers, media_type=asset.media_type)


Stamp = tuple[tuple[str, int, int], ...]


def _stamp() -> Stamp:
    """Tell the state of the folder, so that a file changed under a running server is sent as it is now."""
    found = sorted(FOLDER.iterdir())
    stats = [(path.name, path.stat()) for path in found if path.suffix in TYPES]
    return tuple((name, stat.st_mtime_ns, stat.st_size) for name, stat in stats)


@lru_cache(maxsize=2)
def _assets(stamp: Stamp) -> dict[str, Asset]:
    return {name: Asset.of(_read(name), Path(name).suffix) for name, _, _ in stamp}


def _read(name: str) -> bytes:
    own = (FOLDER / name).read_bytes()
    # The pages look as the report does, and add what only they have.
    return style_sheet().encode() + own if name == "page.css" else own


@lru_cache(maxsize=2)
def _digest(stamp: Stamp) -> str:
    tags = "".join(f"{name}{asset.tag}" for name, asset in _assets(stamp).items())
    return hashlib.sha256(tags.encode()).hexdigest()[:16]


@lru_cache(maxsize=1)
def _plotly() -> Asset:
    spec = find_spec("plotly")
    if spec is None or not spec.submodule_search_locations:
        raise Refusal(404)
    return Asset.of((Path(spec.submodule_search_locations[0]) / "package_data" / "plotly.min.js").read_bytes(), ".js")
