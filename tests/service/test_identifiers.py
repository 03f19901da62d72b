"""Identifiers are made and read in one place."""

from __future__ import annotations

import hashlib
import math
from contextlib import suppress
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leadline_service import identifiers as ids
from leadline_service.clock import SystemClock, from_microseconds, microseconds
from service.stepped_clock import NOON

MOMENTS = st.datetimes(datetime(1970, 1, 1), datetime(9999, 12, 31), timezones=st.just(UTC))  # noqa: DTZ001


@given(MOMENTS)
def test_a_run_tells_its_millisecond(moment: datetime) -> None:
    run_id = ids.new_run_id(moment)
    assert ids.parse_run_id(run_id) == run_id
    assert timedelta(0) <= moment - ids.time_of_run(run_id) < timedelta(milliseconds=1)


@given(MOMENTS, st.timedeltas(timedelta(milliseconds=1), timedelta(days=1)))
def test_runs_sort_by_time(moment: datetime, later: timedelta) -> None:
    assert ids.new_run_id(moment) < ids.new_run_id(min(moment, datetime(9999, 12, 30, tzinfo=UTC)) + later) or (
        moment.year == 9999
    )


def test_runs_of_one_moment_differ() -> None:
    assert len({ids.new_run_id(NOON) for _ in range(1000)}) == 1000


def test_base_32_is_the_number_in_crockfords_signs() -> None:
    # exact: 2^16 - 1 = 1 then three times 31, in four signs for 16 bits; z is 31
    assert ids.written(b"\xff\xff") == "1zzz"
    assert ids.written(bytes(16)) == "0" * 26
    assert ids.written(b"\xff" * 16) == "7" + "z" * 25


def test_letters_that_look_like_digits_are_read_as_such() -> None:
    run_id = "run_" + "1" * 13 + "0" * 13
    assert ids.parse_run_id("RUN_" + "iIlL1" + "1" * 8 + "oO" + "0" * 11) == run_id
    assert ids.parse_token_id("TOK_oil1111111111111") == "tok_0111111111111111"


@pytest.mark.parametrize(
    "text",
    ["", "run_", "run_" + "0" * 25, "run_" + "0" * 27, "run_8" + "0" * 25, "run_u" + "0" * 25, "tok_" + "0" * 26],
)
def test_what_is_no_run(text: str) -> None:
    with pytest.raises(ids.BadIdentifier, match="no run identifier: it must be run_ and 26") as caught:
        ids.parse_run_id(text)
    assert (caught.value.kind, caught.value.text) == ("run identifier", text)


@given(st.text())
def test_no_text_breaks_the_readers(text: str) -> None:
    readers = (ids.parse_run_id, ids.parse_token_id, ids.parse_content_id, ids.parse_study_name, ids.parse_event_id)
    for read in readers:
        with suppress(ids.BadIdentifier):
            assert read(text) is not None


def test_content_is_addressed_by_sha_256() -> None:
    assert ids.content_id("außen") == hashlib.sha256("außen".encode()).hexdigest()  # exact: by definition
    assert ids.parse_content_id("AB" * 32) == "ab" * 32


@pytest.mark.parametrize("name", ["tern", "a", "7", "tern-2.1_b", "a" * 100])
def test_names_of_studies(name: str) -> None:
    assert ids.parse_study_name(name) == name


@pytest.mark.parametrize(
    "name", ["", "-tern", "tern.", "Tern", "a b", "a/b", "..", "a" * 101, "ab" * 32, "außen", "a\n"]
)
def test_what_is_no_name_of_a_study(name: str) -> None:
    with pytest.raises(ids.BadIdentifier, match="study name"):
        ids.parse_study_name(name)


def test_numbers_of_events() -> None:
    assert ids.parse_event_id(ids.event_id(17)) == 17
    assert ids.parse_event_id(str(2**63 - 1)) == 2**63 - 1
    for text in ("", "-1", "1.0", "x", "٣", "9" * 19, "1" * 5000):
        with pytest.raises(ids.BadIdentifier):
            ids.parse_event_id(text)


def test_canonical_json_is_the_same_for_equal_documents() -> None:
    assert ids.canonical_json({"b": [1, 2.5], "a": "ü\0\ud800"}) == r'{"a":"\u00fc\u0000\ud800","b":[1,2.5]}'
    assert ids.digest_of({"a": 1, "b": 2}) == ids.digest_of({"b": 2, "a": 1}) != ids.digest_of({"a": 1, "b": 3})
    with pytest.raises(ValueError, match="JSON compliant"):
        ids.canonical_json({"a": math.nan})


@given(MOMENTS)
def test_microseconds_are_exact(moment: datetime) -> None:
    assert from_microseconds(microseconds(moment)) == moment


def test_a_moment_without_a_zone_is_refused() -> None:
    with pytest.raises(TypeError):
        microseconds(datetime(2033, 4, 5))  # noqa: DTZ001


def test_the_machines_clock_tells_utc_and_goes_on() -> None:
    clock = SystemClock()
    assert abs((clock.now() - datetime.now(UTC)).total_seconds()) < 5
    assert clock.now().tzinfo is UTC
    assert clock.monotonic() <= clock.monotonic()
