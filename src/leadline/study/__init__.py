"""The study document: read and checked, units at the border, laws bound to numbers."""

from __future__ import annotations

from leadline.study.loading import from_mapping, load, loads
from leadline.study.schema import json_schema
from leadline.study.study import Study

__all__ = ["Study", "from_mapping", "json_schema", "load", "loads"]
