"""What every store does with studies and tokens."""

from __future__ import annotations

from datetime import timedelta

import pytest

from leadline_service.identifiers import content_id
from leadline_service.store.cursors import cursor_after
from leadline_service.store.errors import BadCursor, NotFound
from leadline_service.store.port import Store
from leadline_service.tokens import Role, Unauthenticated, authenticate, make_token
from service.stepped_clock import NOON, SteppedClock
from service.store.wanted import TEXT, queued

__all__ = ["StudiesConformance", "TokensConformance"]


class StudiesConformance:
    """Texts by content, names with versions."""

    def test_a_text_is_kept_once_as_it_was_given(self, store: Store, clock: SteppedClock) -> None:
        first = store.put_study(TEXT, "Tern")
        clock.step(5)
        assert store.put_study(TEXT, "Tern") == first == store.study(content_id(TEXT))
        assert (first.text, first.created) == (TEXT, NOON)

    def test_a_title_is_made_fit_to_be_stored(self, store: Store) -> None:
        assert store.put_study("x", "a\0b\ud800c – 月").title == "a?b?c – 月"

    def test_an_unknown_text_is_named(self, store: Store) -> None:
        with pytest.raises(NotFound, match="no study 00") as caught:
            store.study("00")
        assert (caught.value.kind, caught.value.identifier) == ("study", "00")

    def test_a_name_counts_its_versions(self, store: Store) -> None:
        first = store.name_study("tern", "a", "A", "ann")
        again = store.name_study("tern", "a", "A", "bob")
        second = store.name_study("tern", "b", "B", "bob")
        back = store.name_study("tern", "a", "A", "ann")  # differs from the newest, so it is a version of its own
        assert again == first
        assert [version.version for version in (first, second, back)] == [1, 2, 3]
        assert store.version("tern") == back
        assert store.version("tern", 2) == second
        assert (second.caller, second.title, second.content_id) == ("bob", "B", content_id("b"))

    def test_what_has_no_such_name_or_version(self, store: Store) -> None:
        store.name_study("tern", "a", "A", "ann")
        for name, version in (("skua", None), ("tern", 2), ("tern", 0), ("tern", 2**31), ("tern", -(2**70))):
            with pytest.raises(NotFound):
                store.version(name, version)
        with pytest.raises(NotFound):
            store.versions("skua")
        with pytest.raises(NotFound):
            store.forget_name("skua")

    def test_versions_page_from_the_newest(self, store: Store) -> None:
        for number in range(5):
            store.name_study("tern", str(number), "T", "ann")
        first = store.versions("tern", limit=2)
        store.name_study("tern", "new", "T", "ann")  # moves nothing
        second = store.versions("tern", first.next, limit=2)
        third = store.versions("tern", second.next, limit=2)
        assert [[item.version for item in page.items] for page in (first, second, third)] == [[5, 4], [3, 2], [1]]
        assert third.next is None

    def test_names_page_byte_by_byte(self, store: Store) -> None:
        # exact: "-" (0x2d) sorts before "." (0x2e), digits, then letters; a language's rules would skip the dashes
        for name in ("tern", "a-z", "a.b", "ab", "a1"):
            store.name_study(name, name, name.upper(), "ann")
        store.name_study("ab", "newer", "NEWER", "ann")
        first = store.studies(limit=3)
        second = store.studies(first.next, limit=3)
        assert [item.name for item in first.items + second.items] == ["a-z", "a.b", "a1", "ab", "tern"]
        assert [(item.title, item.version) for item in second.items] == [("NEWER", 2), ("TERN", 1)]
        assert second.next is None

    def test_a_cursor_belongs_to_its_listing(self, store: Store) -> None:
        for number in range(3):
            store.name_study("tern", str(number), "T", "ann")
            store.name_study(f"skua-{number}", "s", "S", "ann")
        cursor = store.versions("tern", limit=1).next
        for wrong in (cursor, "", "x", "é", "bnVsbA", "[" * 4000):
            with pytest.raises(BadCursor):
                store.studies(wrong)
        for position in ("\0", "\ud800", "9" * 40, "-1", "x"):  # written as here, but not by a listing
            with pytest.raises(BadCursor):
                store.versions("tern", cursor_after(["versions", "tern"], position))

    def test_a_forgotten_name_leaves_the_text_to_its_runs(self, store: Store, clock: SteppedClock) -> None:
        run = queued(store)
        store.name_study("tern", TEXT, "Tern", "ann")
        unused = store.name_study("skua", "unused", "S", "ann")
        store.forget_name("tern")
        store.forget_name("skua")
        clock.step(10)
        store.expire(clock.now())
        assert store.study(run.study_id).text == TEXT
        with pytest.raises(NotFound):
            store.study(unused.content_id)

    def test_a_text_found_again_is_not_old(self, store: Store, clock: SteppedClock) -> None:
        old = store.put_study("old", "Old")
        found = store.put_study("found", "Found")
        clock.step(10)
        store.put_study("found", "Found")
        store.expire(clock.now())
        assert store.study(found.content_id) == found
        with pytest.raises(NotFound):
            store.study(old.content_id)


class TokensConformance:
    """Records of tokens."""

    def test_a_token_comes_back_as_it_was_kept(self, store: Store) -> None:
        expires = NOON + timedelta(days=1, microseconds=1)
        records = [make_token("ann", Role.RUN, NOON, expires).record, make_token("bob", Role.ADMIN, NOON).record]
        for record in records:
            store.add_token(record)
            store.add_token(record)  # told again after an answer was lost
        assert sorted(store.tokens(), key=lambda record: record.caller) == records
        assert store.token(records[0].token_id) == records[0]
        assert store.token("tok_0000000000000000") is None

    def test_a_revoked_token_opens_nothing_and_stays_listed(self, store: Store, clock: SteppedClock) -> None:
        made = make_token("ann", Role.READ, NOON)
        store.add_token(made.record)
        assert authenticate(made.text, store.token, clock.now()) == made.record
        clock.step(1)
        revoked = store.revoke_token(made.record.token_id)
        clock.step(1)
        assert store.revoke_token(made.record.token_id) == revoked
        assert revoked.revoked == NOON + timedelta(seconds=1)
        assert store.tokens() == (revoked,)
        with pytest.raises(Unauthenticated):
            authenticate(made.text, store.token, clock.now())

    def test_only_a_token_that_is_there_can_be_revoked(self, store: Store) -> None:
        with pytest.raises(NotFound, match="token tok_none"):
            store.revoke_token("tok_none")
