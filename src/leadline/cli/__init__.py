"""The command line: results on standard output, talk on standard error.

Nothing slow is imported until a verb needs it.
"""

from __future__ import annotations
