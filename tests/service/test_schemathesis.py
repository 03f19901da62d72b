"""The service attacked through its own description, on a real server.

Twelve calls for each operation; ``LEADLINE_ATTACK=350`` makes that three hundred and fifty, and adds those made
to cover every bound of every parameter: more than ten thousand calls in all, in a few minutes.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from leadline_service.application import create_app
from leadline_service.settings import Settings
from leadline_service.store.migrating import migrate
from leadline_service.store.opening import open_store
from service.routes.listening import listening
from service.routes.served import FERRY, serving
from service.stepped_clock import SteppedClock

FEW = 12
CALLS = int(os.environ.get("LEADLINE_ATTACK", FEW))
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
]

schema = schemathesis.openapi.from_dict(create_app(Settings()).openapi())


OPERATIONS = sum(1 for _ in schema.get_all_operations())


@dataclass
class Target:
    """A server with something in it: a study, a name, and runs of both kinds that have ended."""

    address: str
    token: str
    study: str
    runs: list[str]
    statuses: Counter[int]


@pytest.fixture(scope="module")
def target(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Target]:
    """Return the server under attack."""
    folder = tmp_path_factory.mktemp("attacked")
    url = f"sqlite:///{folder}/leadline.db"
    migrate(url)
    clock = SteppedClock()
    store = open_store(url, clock)
    limits = {"queued_per_caller": 10**6, "queued_total": 10**6, "trial_s": 5.0}
    with serving(store, clock, folder, **limits) as served:
        drivers = [{"kind": "drivers", "pairs": 1, "cases": 100}]
        runs = [served.ended(cases=100, seed=seed, answers=drivers) for seed in range(3)]
        runs.append(served.ended(cases=100, compare=["light"]))
        served.ask("PUT", "/v1/names/ferry", content=FERRY, headers={"content-type": "application/yaml"})
        with listening(served.app) as address:
            made = Target(address, served.tokens["admin"], served.stored(), runs, Counter())
            yield made
            # Not only refusals: what is there was found, made and computed. One of several workers has a part of the
            # operations only, so that it is sure to have been given some to find but not some to start.
            whole = made.statuses.total() >= 2 * FEW * OPERATIONS // 3
            assert made.statuses.total() < FEW * 5 or {200, *((202, 204) if whole else ())} <= set(made.statuses)
            print(f"\n{made.statuses.total()} calls: {sorted(made.statuses.items())}")  # noqa: T201  # shown with -s
    store.close()


def aimed(case: schemathesis.Case[Any], target: Target) -> None:
    """Aim half of the calls, chosen by what they say, at what is there; and keep what would be computed small."""
    chosen = sha256(repr((case.path_parameters, case.query, case.body)).encode()).digest()
    there = chosen[0] < 128
    watching = case.operation.path.endswith("/events")
    if "run_id" in case.path_parameters and (there or watching) and case.method != "DELETE":
        case.path_parameters["run_id"] = target.runs[chosen[1] % len(target.runs)]
    if "content_id" in case.path_parameters and there:
        case.path_parameters["content_id"] = target.study
    if case.path_parameters.get("name") and there:
        names = ("result.json", "cases/block-0000000.parquet") if "/files/" in case.operation.path else ("ferry",)
        case.path_parameters["name"] = names[chosen[1] % len(names)]
    if isinstance(case.body, dict) and there and "study" in case.body:
        case.body["study"] = target.study
        case.body.pop("text", None)
        for name in ("option", "set", "compare", "options", "answers")[: chosen[2] % 6]:
            case.body.pop(name, None)  # what a machine makes up is in no study
    if case.media_type in {"application/yaml", "text/yaml"} and there:
        case.body = FERRY


@schema.parametrize()
@settings(
    max_examples=CALLS,
    phases=[Phase.generate] if CALLS == FEW else [Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
def test_nothing_undeclared_is_answered(case: schemathesis.Case[Any], target: Target) -> None:
    aimed(case, target)
    shown = {"authorization": f"Bearer {target.token}"}
    answer = case.call(base_url=target.address, headers=shown, timeout=30)
    target.statuses[answer.status_code] += 1
    case.validate_response(answer, checks=CHECKS)
