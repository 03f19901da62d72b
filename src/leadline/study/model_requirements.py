"""The requirements as a study writes them.

The first key names the kind and holds what is bounded: a tank, an engine with its tank,
elements, burns. A kind that bounds the whole mission holds its bound itself. A new kind is
one more class in `REQUIREMENT_KINDS`.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from leadline.study.model_burn_requirements import BeltHoursRecord, BurnLossRecord, BurnTimeRecord
from leadline.study.model_entry_requirements import DecelerationRecord, HeatLoadRecord, PeakHeatingRecord
from leadline.study.model_flight_requirements import ElapsedRecord, LiftedRecord, StackMassRecord
from leadline.study.model_heat_requirements import RejectsRecord
from leadline.study.model_refuel import FlightsRecord
from leadline.study.model_tank_requirements import DeltaVRecord, FillRecord, PropellantRecord
from leadline.study.requirement_record import RequirementRecord

__all__ = ["REQUIREMENT_KINDS"]

REQUIREMENT_KINDS: Final[Mapping[str, type[RequirementRecord]]] = MappingProxyType(
    {
        kind.KIND: kind
        for kind in (
            PropellantRecord,
            DeltaVRecord,
            FillRecord,
            LiftedRecord,
            BurnTimeRecord,
            StackMassRecord,
            ElapsedRecord,
            BurnLossRecord,
            BeltHoursRecord,
            FlightsRecord,
            PeakHeatingRecord,
            HeatLoadRecord,
            DecelerationRecord,
            RejectsRecord,
        )
    }
)
"""Every kind of requirement by the key that names it."""
