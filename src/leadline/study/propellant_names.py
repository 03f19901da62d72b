"""Which propellants a tank may name: one lookup of those built in and those the study defines."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from pydantic import ValidationError, ValidationInfo

from leadline.study.data_files import DataFolder
from leadline.study.model_propellant import BUILT_IN, LiquidRecord, PropellantRecord
from leadline.study.places import Tree
from leadline.study.pydantic_errors import carried
from leadline.study.suggest import meant, shortened

__all__ = ["ReadingContext", "context_of", "known_propellant", "propellant_named"]


@dataclass(slots=True)
class ReadingContext(DataFolder):
    """What reading one part of a study needs from the rest: its data files and its own propellants."""

    propellants: Mapping[str, PropellantRecord] = field(default_factory=dict)


def context_of(tree: Mapping[str, Tree], folder: DataFolder) -> ReadingContext:
    """Put a study's own propellants beside its data files.

    A propellant that cannot be read is refused where it stands; here its name is known all
    the same, and whether it has an oxidiser, so that nothing untrue is said of a tank.
    """
    given = tree.get("propellants")
    own = given if isinstance(given, dict) else {}
    read = {name: _read(each, folder) for name, each in own.items()}
    return ReadingContext(folder.folder, folder.tables, folder.columns, read)


def _read(given: Tree, folder: DataFolder) -> PropellantRecord:
    try:
        return PropellantRecord.model_validate(given, context=folder)
    except ValidationError:
        liquid = LiquidRecord.model_validate({"name": "unread", "density": "1 kg/m3", "vent_heat": "1 J/kg"})
        if isinstance(given, dict) and "oxidiser" in given:
            return PropellantRecord(oxidiser=liquid, fuel=liquid, mixture_ratio=1.0)
        return PropellantRecord(fuel=liquid)


def _own(context: object) -> Mapping[str, PropellantRecord]:
    return context.propellants if isinstance(context, ReadingContext) else {}


def propellant_named(name: str, context: object) -> PropellantRecord:
    """Give the combination of a name that has been checked."""
    return BUILT_IN[name] if name in BUILT_IN else _own(context)[name]


def known_propellant(given: str, info: ValidationInfo) -> str:
    """Refuse a name that stands for no propellant."""
    known = [*BUILT_IN, *_own(info.context)]
    if given not in known:
        message = f'"{shortened(given)}" is no propellant known.'
        raise carried("unknown-propellant", message, meant(given, known, "Propellants"))
    return given
