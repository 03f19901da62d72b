"""Only this machine can reach the service, for as long as it has no access control."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from leadline_service.settings import Settings


@pytest.mark.parametrize("host", ["127.0.0.1", "127.8.9.10", "::1", "localhost"])
def test_loopback_is_taken(host: str) -> None:
    assert Settings(host=host).host == host


@pytest.mark.parametrize(
    "host", ["0.0.0.0", "::", "192.0.2.7", "10.0.0.1", "localhost.example", "", "127.0.0.1 ", "::ffff:192.0.2.7"]
)
def test_any_other_address_is_refused_with_the_remedy(host: str) -> None:
    with pytest.raises(ValidationError, match="Write 127.0.0.1, ::1 or localhost"):
        Settings(host=host)


def test_settings_cannot_be_changed_or_extended() -> None:
    with pytest.raises(ValidationError, match="frozen"):
        Settings().__setattr__("port", 1)
    with pytest.raises(ValidationError, match="extra"):
        Settings.model_validate({"hots": "127.0.0.1"})
