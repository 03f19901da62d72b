"""Tokens open the door to whoever holds them, and leave no trace of their secret."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from datetime import timedelta
from hmac import compare_digest
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from leadline_service import tokens
from leadline_service.tokens import Forbidden, Role, TokenRecord, Unauthenticated, authenticate, authorise, make_token
from service.stepped_clock import NOON

MADE = make_token("ann", Role.RUN, NOON)
SECRET = MADE.text.rpartition("_")[2]


def find(token_id: str) -> TokenRecord | None:
    """Return the one record there is."""
    return MADE.record if token_id == MADE.record.token_id else None


def test_the_right_token_opens() -> None:
    assert authenticate(MADE.text, find, NOON) == MADE.record
    assert MADE.text == f"leadline_{MADE.record.token_id}_{SECRET}"


def test_a_secret_has_256_bits_of_its_own() -> None:
    secrets = {make_token("ann", Role.READ, NOON).text.rpartition("_")[2] for _ in range(100)}
    assert len(secrets) == 100
    assert {len(secret) for secret in secrets} == {52}  # exact: 256 bits at 5 a sign, rounded up
    assert MADE.record.digest == hashlib.sha256(SECRET.encode()).hexdigest()  # exact: by definition


@pytest.mark.parametrize(
    "shown",
    [
        "",
        "leadline",
        "leadline__",
        MADE.text[:-1],
        MADE.text + "0",
        MADE.text.removesuffix(SECRET),
        MADE.text.replace("leadline", "otherline"),
        MADE.text.replace(SECRET, SECRET[::-1]),
        MADE.text.replace(SECRET, MADE.record.digest),
        f"leadline_tok_{'0' * 16}_{SECRET}",
        f"leadline_tok_{'0' * 16}_{tokens.NO_DIGEST}",
        MADE.text + "é",
    ],
    ids=range(12),
)
def test_any_other_text_does_not(shown: str) -> None:
    with pytest.raises(Unauthenticated) as caught:
        authenticate(shown, find, NOON)
    assert SECRET not in str(caught.value)


@given(st.text(st.characters(codec="latin-1")))
def test_no_header_breaks_in(shown: str) -> None:
    with pytest.raises(Unauthenticated):
        authenticate(shown, find, NOON)


def test_an_expired_or_revoked_token_does_not() -> None:
    expiring = replace(MADE.record, expires=NOON + timedelta(seconds=1))
    assert authenticate(MADE.text, lambda _: expiring, NOON + timedelta(seconds=0.999999)) == expiring
    for record in (expiring, replace(MADE.record, revoked=NOON)):
        with pytest.raises(Unauthenticated):
            authenticate(MADE.text, {MADE.record.token_id: record}.get, NOON + timedelta(seconds=1))


def test_secrets_are_compared_in_constant_time_whether_or_not_there_is_such_a_token(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    compared: list[tuple[str, str]] = []

    def compare(one: str, other: str) -> bool:
        compared.append((one, other))
        return compare_digest(one, other)

    monkeypatch.setattr("hmac.compare_digest", compare)
    authenticate(MADE.text, find, NOON)
    with pytest.raises(Unauthenticated):
        authenticate(f"leadline_tok_{'0' * 16}_{SECRET}", find, NOON)
    assert compared == [(MADE.record.digest, MADE.record.digest), (tokens.NO_DIGEST, MADE.record.digest)]


def test_nothing_that_is_printed_holds_the_secret_or_its_digest() -> None:
    for text in (repr(MADE), str(MADE), f"{MADE.record}", repr([MADE.record])):
        assert SECRET not in text
        assert MADE.record.digest not in text
        assert MADE.record.token_id in text


def test_each_role_includes_the_lesser_ones() -> None:
    passing = {(Role.READ, Role.READ)}
    passing |= {(Role.RUN, needed) for needed in (Role.READ, Role.RUN)}
    passing |= {(Role.ADMIN, needed) for needed in Role}
    for role, needed in product(Role, repeat=2):
        record = replace(MADE.record, role=role)
        if (role, needed) in passing:
            authorise(record, needed)
        else:
            with pytest.raises(Forbidden, match=f"the role {needed}; the one shown has the role {role}"):
                authorise(record, needed)
