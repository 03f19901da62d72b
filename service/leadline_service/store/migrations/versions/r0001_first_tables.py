"""The first tables: studies, runs with what hangs on them, tokens."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "r0001"
down_revision = None

SORTED = sa.String().with_variant(sa.String(collation="C"), "postgresql")
BIG = sa.BigInteger


def upgrade() -> None:
    """Make the tables."""
    _make_studies()
    _make_runs()
    _make_what_hangs_on_runs()
    _make_tokens()


def _make_studies() -> None:
    op.create_table(
        "studies",
        sa.Column("content_id", SORTED, nullable=False),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("created", BIG, nullable=False),
        sa.Column("used", BIG, nullable=False),
        sa.PrimaryKeyConstraint("content_id", name="pk_studies"),
    )
    op.create_table(
        "study_versions",
        sa.Column("name", SORTED, nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("content_id", SORTED, nullable=False),
        sa.Column("caller", sa.Text, nullable=False),
        sa.Column("created", BIG, nullable=False),
        sa.ForeignKeyConstraint(["content_id"], ["studies.content_id"], name="fk_study_versions_content_id"),
        sa.PrimaryKeyConstraint("name", "version", name="pk_study_versions"),
    )
    op.create_index("ix_study_versions_content_id", "study_versions", ["content_id"])


def _make_runs() -> None:
    op.create_table(
        "runs",
        sa.Column("run_id", SORTED, nullable=False),
        sa.Column("state", sa.String, nullable=False),
        sa.Column("caller", sa.Text, nullable=False),
        sa.Column("study_id", SORTED, nullable=False),
        sa.Column("identity", sa.String, nullable=False),
        sa.Column("open_identity", sa.String),
        sa.Column("cases", BIG, nullable=False),
        sa.Column("extends", sa.String),
        sa.Column("request", sa.Text, nullable=False),
        sa.Column("progress", sa.Text),
        sa.Column("outcome", sa.Text),
        sa.Column("partial", sa.Boolean, nullable=False),
        sa.Column("failure_code", sa.String),
        sa.Column("failure_message", sa.Text),
        sa.Column("created", BIG, nullable=False),
        sa.Column("started", BIG),
        sa.Column("ended", BIG),
        sa.Column("deleted", BIG),
        sa.Column("attempts", sa.Integer, nullable=False),
        sa.Column("fence", BIG, nullable=False),
        sa.Column("owner", sa.Text),
        sa.Column("lease_until", BIG),
        sa.Column("not_before", BIG),
        sa.Column("revision", BIG, nullable=False),
        sa.ForeignKeyConstraint(["study_id"], ["studies.content_id"], name="fk_runs_study_id"),
        sa.PrimaryKeyConstraint("run_id", name="pk_runs"),
        sa.UniqueConstraint("open_identity", name="uq_runs_open_identity"),
    )
    for columns in (["state", "caller"], ["caller", "run_id"], ["study_id"], ["deleted"]):
        op.create_index("_".join(["ix_runs", *columns]), "runs", columns)


def _make_what_hangs_on_runs() -> None:
    op.create_table(
        "kept_blocks",
        sa.Column("run_id", SORTED, nullable=False),
        sa.Column("checksum", sa.String, nullable=False),
        sa.Column("saved", BIG, nullable=False),
        sa.Column("data", sa.LargeBinary, nullable=False),
        _of_run("kept_blocks"),
        sa.PrimaryKeyConstraint("run_id", name="pk_kept_blocks"),
    )
    op.create_table(
        "run_files",
        sa.Column("run_id", SORTED, nullable=False),
        sa.Column("name", SORTED, nullable=False),
        sa.Column("path", sa.Text, nullable=False),
        sa.Column("size", BIG, nullable=False),
        sa.Column("sha256", sa.String, nullable=False),
        sa.Column("media_type", sa.String, nullable=False),
        _of_run("run_files"),
        sa.PrimaryKeyConstraint("run_id", "name", name="pk_run_files"),
    )
    op.create_table(
        "events",
        sa.Column("run_id", SORTED, nullable=False),
        sa.Column("number", BIG, nullable=False),
        sa.Column("kind", sa.String, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("at", BIG, nullable=False),
        _of_run("events"),
        sa.PrimaryKeyConstraint("run_id", "number", name="pk_events"),
    )
    op.create_table(
        "keys",
        sa.Column("caller", sa.Text, nullable=False),
        sa.Column("key", sa.Text, nullable=False),
        sa.Column("request_digest", sa.String, nullable=False),
        sa.Column("run_id", SORTED, nullable=False),
        sa.Column("created", BIG, nullable=False),
        _of_run("keys"),
        sa.PrimaryKeyConstraint("caller", "key", name="pk_keys"),
    )
    op.create_index("ix_keys_run_id", "keys", ["run_id"])


def _make_tokens() -> None:
    op.create_table(
        "tokens",
        sa.Column("token_id", SORTED, nullable=False),
        sa.Column("caller", sa.Text, nullable=False),
        sa.Column("role", sa.String, nullable=False),
        sa.Column("digest", sa.String, nullable=False),
        sa.Column("created", BIG, nullable=False),
        sa.Column("expires", BIG),
        sa.Column("revoked", BIG),
        sa.PrimaryKeyConstraint("token_id", name="pk_tokens"),
    )


def _of_run(table: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(["run_id"], ["runs.run_id"], name=f"fk_{table}_run_id", ondelete="CASCADE")
