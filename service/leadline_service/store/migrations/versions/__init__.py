"""One module per migration, named by its revision; never changed once it was shipped."""

from __future__ import annotations
