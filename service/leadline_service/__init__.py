"""Leadline behind HTTP: an app factory, its routes and the command that serves them.

Nothing is imported here, so that `leadline_service.command` can refuse an address before the framework is loaded.
"""

from __future__ import annotations
