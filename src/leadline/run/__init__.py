"""A study computed: blocks, executors, what is kept, and the result document."""

from __future__ import annotations
