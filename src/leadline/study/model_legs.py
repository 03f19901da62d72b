"""The legs as a study writes them, each kind with its keys, its checks and its binding.

A leg is a mapping with one key that names its kind and holds the leg's name. A new kind is
one more class in `LEG_KINDS`.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from leadline.study.leg_record import LegRecord
from leadline.study.model_burn import BurnRecord
from leadline.study.model_entry import EntryRecord
from leadline.study.model_loading import LoadRecord, TransferRecord
from leadline.study.model_moves import CoastRecord, DockRecord, DropRecord, UndockRecord
from leadline.study.model_refuel import RefuelRecord

__all__ = ["LEG_KINDS"]

LEG_KINDS: Final[Mapping[str, type[LegRecord]]] = MappingProxyType(
    {
        kind.KIND: kind
        for kind in (
            LoadRecord,
            BurnRecord,
            CoastRecord,
            DropRecord,
            DockRecord,
            UndockRecord,
            TransferRecord,
            RefuelRecord,
            EntryRecord,
        )
    }
)
"""Every kind of leg by the key that names it."""
