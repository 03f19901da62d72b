"""Runs taken from the store, computed, and brought to their end.

`dispatcher` takes them, `executing` carries one from its claim to its end, `keeper` holds its lease and brings finished
blocks to the store meanwhile, `workplace` is where they are computed. Nothing is imported here.
"""

from __future__ import annotations
