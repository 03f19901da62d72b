"""What the service must not lose: studies, runs, leases, events and tokens, in SQLite or PostgreSQL.

`port` says what a store does, `opening` opens one. Nothing is imported here.
"""

from __future__ import annotations
