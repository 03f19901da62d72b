"""What the service answers, one module for each noun.

Nothing is imported here; `leadline_service.application` puts the routes together.
"""

from __future__ import annotations
