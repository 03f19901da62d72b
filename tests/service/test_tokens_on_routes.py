"""Every route of the description, asked without a token, with bad ones, and with a role that does not reach."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import httpx2
import pytest
from fastapi.testclient import TestClient

from leadline_service.application import create_app
from leadline_service.clock import SystemClock
from leadline_service.settings import Settings
from leadline_service.store.migrating import migrate
from leadline_service.store.opening import open_store
from leadline_service.tokens import Role, make_token
from service.routes.served import FERRY, YAML, Served, serving
from service.stepped_clock import SteppedClock

OPEN = {"live", "ready"}
"""Operations that anybody may ask for; a new one is not among them by itself."""
ROLES_OF = {
    "read": {
        "check_study", "study_schema", "get_study", "list_names", "get_name", "list_versions", "list_runs", "get_run",
        "watch_run", "get_result", "get_report", "get_margins", "get_answer", "list_files", "get_file", "get_case",
        "metrics", "edit_study", "get_figures",
    },
    "run": {
        "store_study", "name_study", "forget_name", "start_run", "extend_run", "cancel_run", "delete_run", "try_study",
        "compare_options", "try_changes",
    },
}  # fmt: skip


def operations() -> Iterator[tuple[str, str, str, list[dict[str, list[str]]] | None]]:
    """Yield operation id, method, path and security of every operation described."""
    document = create_app(Settings()).openapi()
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            yield operation["operationId"], method.upper(), path, operation.get("security")


GUARDED = [(name, method, path) for name, method, path, security in operations() if security]
SPARE = {"{run_id}": "run_00000000000000000000000000", "{content_id}": "0" * 64, "{name}": "ferry", "{case}": "0"}


@pytest.fixture(scope="module")
def clock() -> SteppedClock:
    """Return one clock for all."""
    return SteppedClock()


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory, clock: SteppedClock) -> Iterator[Served]:
    """Return one application for all, with tokens that are no good any more besides the good ones."""
    folder = tmp_path_factory.mktemp("served")
    url = f"sqlite:///{folder}/leadline.db"
    migrate(url)
    store = open_store(url, clock)
    with serving(store, clock, folder) as made:
        expired = make_token("gone", Role.ADMIN, clock.now(), clock.now() + timedelta(seconds=1))
        revoked = make_token("sacked", Role.ADMIN, clock.now())
        for token in (expired, revoked):
            store.add_token(token.record)
        store.revoke_token(revoked.record.token_id)
        clock.step(1)  # the very moment at which the one expires
        good = made.tokens["admin"]
        made.tokens.update(
            expired=expired.text, revoked=revoked.text, wrong=good[:-1] + ("0" if good[-1] != "0" else "1")
        )
        made.tokens.update(unknown=make_token("x", Role.ADMIN, clock.now()).text, nonsense="abc", empty="")
        yield made
    store.close()


def address(path: str) -> str:
    """Return an address of a path; there is nothing there."""
    for name, value in SPARE.items():
        path = path.replace(name, value)
    return path.replace("{answer}", "drivers")


def refused(answer: httpx2.Response, status: int) -> None:
    """Check a refusal, and that it says how to do better and nothing else."""
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.headers["www-authenticate"].startswith("Bearer")
    assert "leadline_tok" not in answer.text


def test_every_operation_has_a_role_or_is_open_by_intention() -> None:
    roles: dict[str, set[str]] = {}
    for name, _, _, security in operations():
        role = security[0]["bearer"][0] if security else "anybody"
        roles.setdefault(role, set()).add(name)
    assert roles == {"anybody": OPEN, **ROLES_OF}


@pytest.mark.parametrize("kind", ["none", "empty", "nonsense", "wrong", "unknown", "expired", "revoked", "basic"])
@pytest.mark.parametrize(("name", "method", "path"), GUARDED, ids=[name for name, *_ in GUARDED])
def test_no_good_token_no_answer(
    served: Served, clock: SteppedClock, name: str, method: str, path: str, kind: str
) -> None:
    clock.step(60)  # so that the limit on failures does not come first
    headers = {"authorization": f"Bearer {served.tokens.get(kind, '')}"}
    if kind == "none":
        headers = {}
    if kind == "basic":
        headers = {"authorization": "Basic YWRtaW46YWRtaW4="}
    refused(served.client.request(method, address(path), headers=headers), 401)


@pytest.mark.parametrize("name", sorted(ROLES_OF["run"]))
def test_a_lesser_role_does_not_reach(served: Served, name: str) -> None:
    method, path = next((method, path) for known, method, path in GUARDED if known == name)
    answer = served.ask(method, address(path), "read")
    refused(answer, 403)
    assert 'scope="run"' in answer.headers["www-authenticate"]


REACHING = [
    (name, method, path, role)
    for name, method, path in GUARDED
    for role in ("read", "run", "admin")
    if role != "read" or name in ROLES_OF["read"]
]


@pytest.mark.parametrize(("name", "method", "path", "role"), REACHING)
def test_a_role_that_reaches_gets_further(served: Served, name: str, method: str, path: str, role: str) -> None:
    assert served.ask(method, address(path), role).status_code not in {401, 403}


def test_many_failures_are_slowed_down(served: Served, clock: SteppedClock) -> None:
    clock.step(3600)
    statuses = [served.client.get("/v1/runs").status_code for _ in range(30)]
    assert statuses == [401] * 20 + [429] * 10  # the bucket holds 20, and nothing flows in while the clock stands
    assert served.get("/v1/runs").status_code == 200  # whoever has a good token is not held up
    assert int(served.client.get("/v1/runs").headers["retry-after"]) >= 1


def test_without_any_token_this_machine_is_served_until_one_was_made(open_client: TestClient, tmp_path: Path) -> None:
    assert open_client.post("/v1/studies", content=FERRY, headers=YAML).status_code == 201
    store = open_store(f"sqlite:///{tmp_path}/leadline.db")  # as the command does, beside the server
    made = make_token("ann", Role.READ, SystemClock().now())
    store.add_token(made.record)
    assert open_client.get("/v1/runs").status_code == 401
    assert open_client.get("/v1/runs", headers={"authorization": f"Bearer {made.text}"}).status_code == 200
    store.revoke_token(made.record.token_id)
    store.close()
    assert open_client.get("/v1/runs").status_code == 401  # revoking the last one does not open the door again


@pytest.fixture
def open_client(tmp_path: Path) -> Iterator[TestClient]:
    """Return a client of a service without tokens."""
    app = create_app(Settings(data=tmp_path, least_free_bytes=0))
    with TestClient(app, base_url="http://localhost:8731", raise_server_exceptions=False) as client:
        yield client


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 200),
        ({"host": "127.0.0.1"}, 200),
        ({"host": "[::1]:8731"}, 200),
        ({"origin": "http://localhost:8731", "sec-fetch-site": "same-origin"}, 200),
        ({"host": "leadline.example"}, 403),  # a name of a stranger's that leads here
        ({"host": "localhost.example"}, 403),
        ({"origin": "https://pages.example"}, 403),
        ({"origin": "null"}, 403),
        ({"sec-fetch-site": "cross-site"}, 403),
        ({"authorization": "Bearer nonsense"}, 401),
    ],
)
def test_an_open_service_does_not_serve_pages_from_elsewhere(
    open_client: TestClient, headers: dict[str, str], status: int
) -> None:
    assert open_client.get("/v1/runs", headers=headers).status_code == status


def test_metrics_take_a_token_unless_asked_for_from_this_machine(served: Served, clock: SteppedClock) -> None:
    clock.step(3600)
    assert served.client.get("/metrics").status_code == 401  # the test client says it is no address at all
    here = TestClient(served.app, client=("127.0.0.1", 5), base_url="http://localhost")
    here.app_state.update(served.client.app_state)
    assert here.get("/metrics").status_code == 200
    assert here.get("/metrics", headers={"x-forwarded-for": "192.0.2.7"}).status_code == 401
