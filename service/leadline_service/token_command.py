"""The `tokens` verb: bearer tokens made, listed and revoked, straight in the store."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Annotated

import typer
from pydantic import ValidationError

from leadline.errors import Unreachable
from leadline_service.clock import SystemClock
from leadline_service.command import DataOption, StoreOption
from leadline_service.identifiers import BadIdentifier, parse_token_id
from leadline_service.opening import opened_store
from leadline_service.settings import Settings
from leadline_service.store.errors import NotFound, StoreUnavailable
from leadline_service.store.port import Store
from leadline_service.tokens import Role, TokenRecord, make_token

__all__ = ["tokens"]

tokens = typer.Typer(
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    no_args_is_help=True,
    help="Make, list and revoke the tokens that callers of the service show.",
)

DATA = Path("leadline-data")


@tokens.command()
def make(
    caller: Annotated[str, typer.Argument(help="Whose it is: what limits and fair shares go by.")],
    role: Annotated[Role, typer.Option(help="What it lets its bearer do.")] = Role.RUN,
    days: Annotated[float | None, typer.Option(min=0.001, help="Let it end by itself after so many days.")] = None,
    data: DataOption = DATA,
    store: StoreOption = None,
) -> None:
    """Make a token and print it: this once, as only a digest of it is kept."""
    if not caller.isprintable() or not 0 < len(caller.strip()) <= 100:
        raise typer.BadParameter("a caller's name has 1 to 100 printable characters", param_hint="CALLER")
    now = SystemClock().now()
    expires = None if days is None else now + timedelta(days=days)
    made = make_token(caller.strip(), role, now, expires)
    with _opened(data, store) as opened:
        opened.add_token(made.record)
    typer.echo(made.text)
    typer.echo(f"Made {made.record.token_id} for {made.record.caller} ({role}). Nothing else shows it again.", err=True)


@tokens.command("list")
def list_tokens(
    *,
    json_output: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
    data: DataOption = DATA,
    store: StoreOption = None,
) -> None:
    """List every token, those revoked and expired too; none of it is secret."""
    with _opened(data, store) as opened:
        records = opened.tokens()
    if json_output:
        typer.echo(json.dumps({"leadline": 1, "kind": "tokens", "tokens": [_told(each) for each in records]}, indent=2))
        return
    for record in records:
        typer.echo("  ".join(f"{value}" for value in _told(record).values() if value is not None))


@tokens.command()
def revoke(
    token_id: Annotated[str, typer.Argument(help="The token's identifier, as list shows it.")],
    data: DataOption = DATA,
    store: StoreOption = None,
) -> None:
    """Make a token worthless from now on."""
    try:
        with _opened(data, store) as opened:
            record = opened.revoke_token(parse_token_id(token_id))
    except (BadIdentifier, NotFound) as error:
        raise typer.BadParameter(str(error), param_hint="TOKEN_ID") from error
    typer.echo(f"Revoked {record.token_id} of {record.caller}.", err=True)


@contextmanager
def _opened(data: Path, store: str | None) -> Iterator[Store]:
    try:
        opened = opened_store(Settings(data=data, store=store))
    except (StoreUnavailable, ValidationError) as error:
        raise Unreachable(f"The store cannot be opened: {error}.") from error
    try:
        yield opened
    finally:
        opened.close()


def _told(record: TokenRecord) -> dict[str, str | None]:
    now = SystemClock().now()
    standing = "revoked" if record.revoked else "good" if record.is_good(now) else "expired"
    expires = None if record.expires is None else record.expires.isoformat(timespec="seconds")
    return {
        "token_id": record.token_id,
        "caller": record.caller,
        "role": record.role.value,
        "standing": standing,
        "created": record.created.isoformat(timespec="seconds"),
        "expires": expires,
    }
