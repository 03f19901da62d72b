"""What a run left: sent whole, in part, or not again; and shown safely."""

from __future__ import annotations

import pytest

from service.routes.served import Served

CASES = "cases/block-0000000.parquet"
DATA = bytes(range(256)) * 4  # what stands in for a Parquet file


@pytest.fixture
def address(served: Served) -> str:
    """Return the address of the files of a run that has ended."""
    return f"/v1/runs/{served.ended(answers=[{'kind': 'drivers', 'pairs': 1, 'cases': 1_000}])}"


def test_files_are_listed_with_their_checksums(served_on_both: Served) -> None:
    served = served_on_both
    run_id = served.started()
    assert served.get(f"/v1/runs/{run_id}/files").json() == {"items": []}
    served.compute()
    items = served.get(f"/v1/runs/{run_id}/files").json()["items"]
    assert [item["name"] for item in items] == [CASES, "margins.csv", "report.html", "result.json"]
    for item in items:
        got = served.get(item["address"])
        assert (got.status_code, len(got.content)) == (200, item["size"])
        assert got.headers["etag"] == f'"{item["sha256"]}"'
        assert got.headers["content-type"] == item["media_type"]


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("result", "application/json"),
        ("report", "text/html; charset=utf-8"),
        ("margins.csv", "text/csv; charset=utf-8"),
        ("answers/drivers", "application/json"),
    ],
)
def test_each_answer_has_an_address(served: Served, address: str, path: str, kind: str) -> None:
    got = served.get(f"{address}/{path}")
    assert (got.status_code, got.headers["content-type"]) == (200, kind)
    again = served.get(f"{address}/{path}", headers={"if-none-match": got.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


@pytest.mark.parametrize(
    ("asked", "status", "low", "high"),
    [
        # exact: RFC 9110 section 14.1.2; positions are inclusive
        ("bytes=0-0", 206, 0, 1),
        ("bytes=10-19", 206, 10, 20),
        ("bytes=1000-", 206, 1000, 1024),
        ("bytes=-24", 206, 1000, 1024),
        ("bytes=-5000", 206, 0, 1024),
        ("bytes=1000-5000", 206, 1000, 1024),
        # what cannot be read, and several ranges, are let be (section 14.2)
        ("bytes=5-4", 200, 0, 1024),
        ("bytes=0-1,4-5", 200, 0, 1024),
        ("lines=0-1", 200, 0, 1024),
        ("bytes=-", 200, 0, 1024),
    ],
)
def test_a_range_of_bytes(served: Served, address: str, asked: str, status: int, low: int, high: int) -> None:
    got = served.get(f"{address}/files/{CASES}", headers={"range": asked})
    assert (got.status_code, got.content) == (status, DATA[low:high])
    assert got.headers["content-length"] == str(high - low)
    assert got.headers.get("content-range") == (f"bytes {low}-{high - 1}/1024" if status == 206 else None)
    assert got.headers["accept-ranges"] == "bytes"


@pytest.mark.parametrize("asked", ["bytes=1024-", "bytes=5000-6000", "bytes=-0"])
def test_a_range_beyond_the_end(served: Served, address: str, asked: str) -> None:
    got = served.get(f"{address}/files/{CASES}", headers={"range": asked})
    assert (got.status_code, got.headers["content-range"]) == (416, "bytes */1024")
    assert got.headers["content-type"] == "application/problem+json"


def test_a_range_of_another_file_gets_the_whole(served: Served, address: str) -> None:
    tag = served.get(f"{address}/files/{CASES}").headers["etag"]
    for condition, status in ((tag, 206), ('"another"', 200), (f"W/{tag}", 200)):
        got = served.get(f"{address}/files/{CASES}", headers={"range": "bytes=0-9", "if-range": condition})
        assert got.status_code == status, condition


def test_before_the_end_there_is_nothing_and_after_it_only_what_was_asked_for(served: Served) -> None:
    run_id = served.started()
    early = served.get(f"/v1/runs/{run_id}/result")
    assert (early.status_code, int(early.headers["retry-after"]) > 0) == (409, True)
    served.compute()
    assert served.get(f"/v1/runs/{run_id}/answers/drivers").status_code == 404
    assert served.get(f"/v1/runs/{run_id}/answers/../../secret").status_code == 404
    assert served.get(f"/v1/runs/{run_id}/files/..%2F..%2Fleadline.db").status_code == 404
    assert served.get(f"/v1/runs/{run_id}/answers/everything").status_code == 422


def test_a_file_that_is_gone_is_gone(served: Served, address: str) -> None:
    run_id = address.rpartition("/")[2]
    served.files.delete(f"runs/{run_id}")
    assert served.get(f"{address}/result").status_code == 410


def test_a_report_may_run_its_own_scripts_only_and_is_a_stranger(served: Served, address: str) -> None:
    policy = served.get(f"{address}/report").headers["content-security-policy"]
    rules = [rule.strip() for rule in policy.split(";")]
    assert "script-src 'sha256-abc='" in rules  # the page's own digests, and nothing else
    assert "sandbox allow-scripts allow-downloads" in rules  # without allow-same-origin
    assert {"default-src 'none'", "frame-ancestors 'none'"} <= set(rules)


def test_any_case_is_flown_again(served_on_both: Served) -> None:
    served = served_on_both
    run_id = served.ended(option="light", set={"ferry.tanks.hold.load": "8.1 t"}, seed=5)
    for case in (0, 17, 10**9):
        got = served.get(f"/v1/runs/{run_id}/cases/{case}")
        assert (got.status_code, got.json()["case"], got.json()["seed"]) == (200, case, 5)
        assert got.json()["account"]["ledger"][0]["leg"] == "start"
    assert served.get(f"/v1/runs/{run_id}/cases/-1").status_code == 422
