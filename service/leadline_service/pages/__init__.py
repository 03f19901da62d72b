"""The pages a browser shows: templates filled on the server, with a little script on top.

Nothing is imported here; `leadline_service.pages.router` puts the pages together.
"""

from __future__ import annotations
