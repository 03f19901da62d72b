"""Signing in with an access token, which a cookie then keeps that no script can read."""

from __future__ import annotations

from typing import Final
from urllib.parse import parse_qs, urlsplit

from fastapi import APIRouter, Request, Response
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse

from leadline_service.access import COOKIE, require_own_page
from leadline_service.dependencies import Serving
from leadline_service.pages.rendering import page
from leadline_service.serving import Service
from leadline_service.tokens import Unauthenticated, authenticate

__all__ = ["router"]

FORM: Final = "application/x-www-form-urlencoded"
LONGEST: Final = 4_000
KEPT_S: Final = 30 * 86_400
"""How long a browser keeps the cookie, s; the token may end before."""

router = APIRouter(include_in_schema=False)


@router.get("/sign-in")
def sign_in(request: Request) -> Response:
    """Ask for a token."""
    return _asked(_local(request.query_params.get("next", "/")), wrong=False)


@router.post("/sign-in")
async def signed_in(request: Request, service: Serving) -> Response:
    """Take a token, and go on to where somebody wanted to go."""
    require_own_page(request.headers)
    service.failures.take("" if request.client is None else request.client.host)
    body = await request.body()
    given = parse_qs(body[:LONGEST].decode("utf-8", "replace")) if _is_form(request) else {}
    token, after = given.get("token", [""])[0].strip(), _local(given.get("next", ["/"])[0])
    if not await run_in_threadpool(_is_good, service, token):
        return _asked(after, wrong=True)
    answer = RedirectResponse(after, 303)
    secure = request.url.scheme == "https"
    answer.set_cookie(COOKIE, token, max_age=KEPT_S, path="/", secure=secure, httponly=True, samesite="strict")
    return answer


@router.post("/sign-out")
def signed_out(request: Request) -> Response:
    """Forget the token."""
    require_own_page(request.headers)
    answer = RedirectResponse("/sign-in", 303)
    answer.delete_cookie(COOKIE, path="/", httponly=True, samesite="strict")
    return answer


def _is_form(request: Request) -> bool:
    return request.headers.get("content-type", "").partition(";")[0].strip().lower() == FORM


def _is_good(service: Service, token: str) -> bool:
    try:
        authenticate(token, service.store.token, service.clock.now())
    except Unauthenticated:
        return False
    return True


def _asked(after: str, *, wrong: bool) -> Response:
    status = 401 if wrong else 200
    return page("sign-in", title="Sign in", here="", caller=None, status=status, next=after, wrong=wrong)


def _local(address: str) -> str:
    """Return an address within this service; the first page for any other."""
    parts = urlsplit(address)
    local = address.startswith("/") and not address.startswith(("//", "/\\")) and not parts.scheme and not parts.netloc
    plain = address.isprintable() and "\\" not in address
    return address if local and plain else "/"
