"""Signing in: a cookie that no script reads and no other site can use."""

from __future__ import annotations

from urllib.parse import urlencode

import pytest

from service.routes.served import Served

FORM = {"content-type": "application/x-www-form-urlencoded", "accept": "text/html"}


def sign_in(served: Served, token: str, after: str = "/", **headers: str) -> tuple[int, str, str]:
    body = urlencode({"token": token, "next": after})
    got = served.client.post("/sign-in", content=body, headers={**FORM, **headers}, follow_redirects=False)
    return got.status_code, got.headers.get("location", ""), got.headers.get("set-cookie", "")


def test_a_good_token_opens_pages_and_interface(served: Served) -> None:
    status, after, cookie = sign_in(served, served.tokens["run"], "/reference")
    assert (status, after) == (303, "/reference")
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    page = served.client.get("/", headers={"accept": "text/html"})
    assert page.status_code == 200
    assert "Sign <bdi>run</bdi> out" in page.text
    assert 'data-role="run"' in page.text
    assert served.client.get("/v1/runs").status_code == 200
    own = {"origin": "http://localhost", "sec-fetch-site": "same-origin"}
    answer = served.client.post("/v1/edit", json={"text": "a: 1"}, headers=own)
    assert answer.status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "http://elsewhere.example"},
        {"origin": "http://localhost:9999"},
        {"origin": "null"},
        {"origin": "http://[broken"},
    ],
)
def test_the_cookie_is_no_good_from_elsewhere(served: Served, headers: dict[str, str]) -> None:
    sign_in(served, served.tokens["admin"])
    assert served.client.post("/v1/edit", json={"text": "a: 1"}, headers=headers).status_code == 403
    assert served.client.get("/v1/runs", headers=headers).status_code == 403
    assert sign_in(served, served.tokens["run"], **headers)[0] == 403
    assert served.client.post("/sign-out", headers=headers, follow_redirects=False).status_code == 403


def test_a_wrong_token_is_refused_without_saying_why(served: Served) -> None:
    status, _, cookie = sign_in(served, "nothing of the kind")
    assert (status, cookie) == (401, "")
    got = served.client.post("/sign-in", content="", headers=FORM)
    assert "That is no token this service knows" in got.text


def test_guessing_is_slowed_down(served: Served) -> None:
    found = {sign_in(served, f"guess {guess}")[0] for guess in range(40)}
    assert found == {401, 429}


@pytest.mark.parametrize(
    "after",
    ["https://elsewhere.example", "//elsewhere.example", "/\\elsewhere.example", "javascript:alert(1)", "/a\nb", ""],
)
def test_nobody_is_sent_elsewhere(served: Served, after: str) -> None:
    assert sign_in(served, served.tokens["read"], after)[1] == "/"
    shown = served.client.get("/sign-in", params={"next": after}).text
    assert 'name="next" value="/"' in shown


def test_signing_out_forgets_the_token(served: Served) -> None:
    sign_in(served, served.tokens["read"])
    got = served.client.post("/sign-out", follow_redirects=False)
    assert got.headers["location"] == "/sign-in"
    assert served.client.get("/v1/runs").status_code == 401


def test_a_reader_may_look_and_not_try(served: Served) -> None:
    run = served.ended()
    sign_in(served, served.tokens["read"])
    assert served.client.get(f"/runs/{run}/try", headers={"accept": "text/html"}).status_code == 200
    assert served.client.post("/v1/try", json={"study": served.stored()}).status_code == 403
