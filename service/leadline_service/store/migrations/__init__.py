"""Alembic's folder: how the tables came to be as they are."""

from __future__ import annotations
