"""``python -m leadline_service``: serve without the engine's command line."""

from __future__ import annotations

from leadline_service.command import main

if __name__ == "__main__":
    main()
