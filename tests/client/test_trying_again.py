"""What is tried again, how often, and when that ends. Pauses are ours: pinned only to bounds that the text states."""

from __future__ import annotations

import json

import httpx2
import pytest

from client.faked import RUN, document, faked, problem
from leadline.client import Busy, Refused
from leadline.client.talk import FIRST_PAUSE_S, STRANGER_S
from leadline.errors import StudyError, Unreachable

LOST = httpx2.ConnectError("refused")
CUT = httpx2.ReadError("cut off")
RUN_ID = str(RUN["run_id"])


def test_a_request_that_was_lost_is_sent_again_under_the_same_key(monkeypatch: pytest.MonkeyPatch) -> None:
    client, server = faked(monkeypatch, CUT, document(RUN, 202))
    assert client.submit("0" * 64, cases=10).found == "new"
    first, second = server.requests
    assert first.headers["idempotency-key"] == second.headers["idempotency-key"]
    assert first.content == second.content
    assert json.loads(first.content) == {"study": "0" * 64, "cases": 10}
    assert [1 <= pause / FIRST_PAUSE_S <= 1.5 for pause in server.pauses] == [True]


def test_each_request_of_its_own_has_a_key_of_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    client, server = faked(monkeypatch, document(RUN, 202))
    client.submit("0" * 64)
    client.submit("0" * 64)
    client.submit("0" * 64, key="mine")
    keys = [request.headers["idempotency-key"] for request in server.requests]
    assert len(set(keys)) == 3
    assert keys[2] == "mine"


@pytest.mark.parametrize("status", [429, 503])
def test_retry_after_is_heeded(monkeypatch: pytest.MonkeyPatch, status: int) -> None:
    client, server = faked(monkeypatch, problem(status, "Too many runs are waiting.", "7"), document(RUN))
    client.run(RUN_ID)
    assert [7 <= pause <= 7 * 1.5 for pause in server.pauses] == [True]


def test_a_server_that_stays_busy_is_told_of_with_when_to_come_back(monkeypatch: pytest.MonkeyPatch) -> None:
    client, server = faked(monkeypatch, problem(429, "Too many runs are waiting.", "20"), patience_s=60)
    with pytest.raises(Busy, match="Too many runs are waiting") as busy:
        client.run(RUN_ID)
    assert (busy.value.status, busy.value.retry_after_s) == (429, 20.0)
    assert isinstance(busy.value, Refused)
    assert isinstance(busy.value, Unreachable)  # so that the command line ends with 6
    assert 40 < sum(server.pauses) <= 60


def test_a_retry_after_beyond_all_patience_is_told_of_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    client, server = faked(monkeypatch, problem(503, "Not ready.", "3600"))
    with pytest.raises(Busy, match="Not ready"):
        client.run(RUN_ID)
    assert server.pauses == []


def test_pauses_grow_and_end(monkeypatch: pytest.MonkeyPatch) -> None:
    client, server = faked(monkeypatch, document(RUN), LOST, patience_s=30)
    client.run(RUN_ID)  # from here on the server is known
    with pytest.raises(Unreachable, match="http://leadline.test cannot be reached: refused"):
        client.run(RUN_ID)
    assert 20 < sum(server.pauses) <= 30
    assert server.pauses[0] < server.pauses[3] < server.pauses[5]
    assert max(server.pauses) <= 5 * 1.5


def test_a_server_that_never_answered_is_given_up_soon(monkeypatch: pytest.MonkeyPatch) -> None:
    client, server = faked(monkeypatch, LOST, patience_s=600)
    with pytest.raises(Unreachable):
        client.run(RUN_ID)
    assert sum(server.pauses) <= STRANGER_S
    assert len(server.requests) > 1


@pytest.mark.parametrize("status", [400, 401, 404, 409, 413, 500])
def test_what_will_be_refused_again_is_asked_once(monkeypatch: pytest.MonkeyPatch, status: int) -> None:
    client, server = faked(monkeypatch, problem(status, "So it is."))
    with pytest.raises(Refused, match="So it is") as refused:
        client.run(RUN_ID)
    assert refused.value.status == status
    assert not isinstance(refused.value, Unreachable)
    assert len(server.requests) == 1


def test_a_trial_that_takes_too_long_is_not_asked_for_over_and_over(monkeypatch: pytest.MonkeyPatch) -> None:
    client, server = faked(monkeypatch, problem(503, "not done within 20 s", "2"))

    def slow(request: httpx2.Request) -> httpx2.Response:
        server.clock_s += 20
        return problem(503, "not done within 20 s", "2")

    server.answers = [slow]
    with pytest.raises(Busy, match="not done within 20 s"):
        client.trial("leadline: 1")
    assert len(server.requests) == 1


def test_what_stands_in_between_is_told_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    page = httpx2.Response(502, text="<html>bad gateway</html>")
    client, server = faked(monkeypatch, page, document(RUN))
    client.run(RUN_ID)
    assert len(server.requests) == 2
    for answer in (httpx2.Response(200, text="hello"), httpx2.Response(404, text="no"), document({"run_id": 1})):
        client, _ = faked(monkeypatch, answer)
        with pytest.raises(Unreachable, match="no Leadline server"):
            client.run(RUN_ID)


def test_a_token_goes_to_nobody_else(monkeypatch: pytest.MonkeyPatch) -> None:
    elsewhere = httpx2.Response(307, headers={"location": "https://elsewhere.test/"})
    client, server = faked(monkeypatch, elsewhere)
    with pytest.raises(Unreachable):
        client.run(RUN_ID)
    assert [request.url.host for request in server.requests] == ["leadline.test"]
    assert server.requests[0].headers["authorization"] == "Bearer a-token"


def test_flaws_without_a_remedy_of_their_own_are_issues_too(monkeypatch: pytest.MonkeyPatch) -> None:
    flaw = {"pointer": "#/set/a.b~1c/0", "code": "odd", "detail": "Odd."}
    client, _ = faked(monkeypatch, problem(422, "No.", errors=[flaw]))
    with pytest.raises(StudyError) as raised:
        client.submit("0" * 64)
    (issue,) = raised.value.issues
    assert (issue.path, issue.message, issue.code, issue.line) == (("a.b/c", 0), "Odd.", "odd", None)
