"""The tables, as SQLAlchemy Core describes them; times are whole microseconds since 1970 in UTC.

The migrations make them. A test compares what the migrations make with what stands here.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    PrimaryKeyConstraint,
    String,
    Table,
    Text,
    UniqueConstraint,
)

__all__ = ["METADATA", "events", "kept_blocks", "keys", "run_files", "runs", "studies", "study_versions", "tokens"]

METADATA = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)

# Identifiers and names are sorted byte by byte, as SQLite does; a database's language would sort dashes its own way.
SORTED = String().with_variant(String(collation="C"), "postgresql")

studies = Table(
    "studies",
    METADATA,
    Column("content_id", SORTED, primary_key=True),
    Column("title", Text, nullable=False),
    Column("text", Text, nullable=False),
    Column("created", BigInteger, nullable=False),
    # When it was last put here: a text just found again is not swept away for being old.
    Column("used", BigInteger, nullable=False),
)

study_versions = Table(
    "study_versions",
    METADATA,
    Column("name", SORTED, nullable=False),
    Column("version", Integer, nullable=False),
    Column("content_id", SORTED, ForeignKey("studies.content_id"), nullable=False),
    Column("caller", Text, nullable=False),
    Column("created", BigInteger, nullable=False),
    PrimaryKeyConstraint("name", "version"),
    Index(None, "content_id"),
)

runs = Table(
    "runs",
    METADATA,
    Column("run_id", SORTED, primary_key=True),
    Column("state", String, nullable=False),
    Column("caller", Text, nullable=False),
    Column("study_id", SORTED, ForeignKey("studies.content_id"), nullable=False),
    Column("identity", String, nullable=False),
    # The identity as long as the run may answer for others like it, then empty: one such run at a time.
    Column("open_identity", String),
    Column("cases", BigInteger, nullable=False),
    Column("extends", String),
    Column("request", Text, nullable=False),
    Column("progress", Text),
    Column("outcome", Text),
    Column("partial", Boolean, nullable=False),
    Column("failure_code", String),
    Column("failure_message", Text),
    Column("created", BigInteger, nullable=False),
    Column("started", BigInteger),
    Column("ended", BigInteger),
    Column("deleted", BigInteger),
    Column("attempts", Integer, nullable=False),
    Column("fence", BigInteger, nullable=False),
    Column("owner", Text),
    Column("lease_until", BigInteger),
    Column("not_before", BigInteger),
    Column("revision", BigInteger, nullable=False),
    UniqueConstraint("open_identity"),
    Index(None, "state", "caller"),
    Index(None, "caller", "run_id"),
    Index(None, "study_id"),
    Index(None, "deleted"),
)

kept_blocks = Table(
    "kept_blocks",
    METADATA,
    Column("run_id", SORTED, ForeignKey("runs.run_id", ondelete="CASCADE"), primary_key=True),
    Column("checksum", String, nullable=False),
    Column("saved", BigInteger, nullable=False),
    Column("data", LargeBinary, nullable=False),
)

run_files = Table(
    "run_files",
    METADATA,
    Column("run_id", SORTED, ForeignKey("runs.run_id", ondelete="CASCADE"), nullable=False),
    Column("name", SORTED, nullable=False),
    Column("path", Text, nullable=False),
    Column("size", BigInteger, nullable=False),
    Column("sha256", String, nullable=False),
    Column("media_type", String, nullable=False),
    PrimaryKeyConstraint("run_id", "name"),
)

events = Table(
    "events",
    METADATA,
    Column("run_id", SORTED, ForeignKey("runs.run_id", ondelete="CASCADE"), nullable=False),
    Column("number", BigInteger, nullable=False),
    Column("kind", String, nullable=False),
    Column("body", Text, nullable=False),
    Column("at", BigInteger, nullable=False),
    PrimaryKeyConstraint("run_id", "number"),
)

keys = Table(
    "keys",
    METADATA,
    Column("caller", Text, nullable=False),
    Column("key", Text, nullable=False),
    Column("request_digest", String, nullable=False),
    Column("run_id", SORTED, ForeignKey("runs.run_id", ondelete="CASCADE"), nullable=False),
    Column("created", BigInteger, nullable=False),
    PrimaryKeyConstraint("caller", "key"),
    Index(None, "run_id"),
)

tokens = Table(
    "tokens",
    METADATA,
    Column("token_id", SORTED, primary_key=True),
    Column("caller", Text, nullable=False),
    Column("role", String, nullable=False),
    Column("digest", String, nullable=False),
    Column("created", BigInteger, nullable=False),
    Column("expires", BigInteger),
    Column("revoked", BigInteger),
)
