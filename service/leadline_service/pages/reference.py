"""Everything a study may say, read off the models that read it: nothing here is written a second time."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from leadline.study import json_schema
from leadline.study.model_costs import COST_KINDS
from leadline.study.model_legs import LEG_KINDS
from leadline.study.model_requirements import REQUIREMENT_KINDS
from leadline.study.text_writing import as_flow

__all__ = ["Key", "Kind", "Part", "Wanted", "anchor", "parts"]

NUMBER: Final = re.compile(r"(quantity|number)_of_(.+)")
NO_DEFAULT: Final[tuple[object, ...]] = ("", [], {})


@dataclass(frozen=True, slots=True)
class Wanted:
    """One thing that may stand under a key; `about` is the anchor of what says more, empty where nothing does."""

    words: str
    about: str = ""


@dataclass(frozen=True, slots=True)
class Key:
    """A key: what it says, what may stand there, what holds if it is left out, and an example."""

    name: str
    says: str
    wanted: tuple[Wanted, ...]
    default: str
    example: str


@dataclass(frozen=True, slots=True)
class Kind:
    """A mapping with its keys: a kind of leg, of cost, of requirement, or a part of a study."""

    name: str
    anchor: str
    says: str
    keys: tuple[Key, ...]


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the reference."""

    title: str
    anchor: str
    says: str
    kinds: tuple[Kind, ...]


def anchor(*words: str) -> str:
    """Return an anchor on the page made of words."""
    return "-".join(re.sub(r"[^a-z0-9]+", "-", word.lower()).strip("-") for word in words)


@lru_cache(maxsize=1)
def parts() -> tuple[Part, ...]:
    """Return the parts of the reference that the models make."""
    schema = json_schema()
    named = schema["$defs"]
    legs = {name: named[_name_of(named, kind)] for name, kind in LEG_KINDS.items()}
    requirements = {name: named[_name_of(named, kind)] for name, kind in REQUIREMENT_KINDS.items()}
    kinds_of_their_own = [id(part) for part in (*legs.values(), *requirements.values())]
    records = {
        _title(name): part
        for name, part in named.items()
        if "properties" in part and not NUMBER.fullmatch(name) and id(part) not in kinds_of_their_own
    }
    costs = dict(_costs(legs["burn"]["properties"]["cost"]))
    return (
        Part("The study", "study", "The keys at the top.", (_kind("study", schema, "part"),)),
        Part(
            "Legs",
            "legs",
            "A step of the mission. The key that names the kind comes first and holds the leg's name.",
            tuple(_kind(name, part, "leg") for name, part in legs.items()),
        ),
        Part(
            "Costs",
            "costs",
            "What stands under a burn's cost where it follows from geometry.",
            tuple(_kind(name, part, "cost") for name, part in costs.items()),
        ),
        Part(
            "Requirements",
            "requirements",
            "What must hold. The key that names the kind holds what is bounded.",
            tuple(_kind(name, part, "requirement") for name, part in requirements.items()),
        ),
        Part(
            "Parts of a study",
            "parts",
            "Mappings that stand within others.",
            tuple(_kind(name, part, "part") for name, part in sorted(records.items())),
        ),
    )


def _name_of(named: Mapping[str, Any], kind: type[Any]) -> str:
    """Return the name of a model's definition; two of one name are told apart by their modules."""
    long = f"{kind.__module__}.{kind.__qualname__}".replace(".", "__")
    return kind.__name__ if kind.__name__ in named else long


def _costs(cost: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    """Return each kind of cost out of what may stand under a burn's cost."""
    for option in _options(cost):
        for name, part in option.get("properties", {}).items():
            if name in COST_KINDS:
                yield name, part


def _options(part: Mapping[str, Any]) -> list[Any]:
    choices = [choice for key in ("anyOf", "oneOf") for choice in part.get(key, ())]
    return [each for choice in choices for each in (_options(choice) or [choice])]


def _title(name: str) -> str:
    words = re.findall(r"[A-Z][a-z]*", name.rpartition("__")[2].removesuffix("Record"))
    return " ".join(words).lower()


def _kind(name: str, part: Mapping[str, Any], of: str) -> Kind:
    needed = part.get("required", ())
    keys = tuple(_key(key, inner, needed=key in needed) for key, inner in part["properties"].items())
    ordered = sorted(keys, key=lambda key: key.name != name)  # the key that names the kind first
    return Kind(name, anchor(of, name), part.get("description", ""), tuple(ordered))


def _key(name: str, part: Mapping[str, Any], *, needed: bool) -> Key:
    examples = part.get("examples", ())
    return Key(
        name=name,
        says=part.get("description", ""),
        wanted=tuple(dict.fromkeys(_wanted(part))),
        default="must be given" if needed else _default(part),
        example=as_flow(examples[0]) if examples else "",
    )


def _default(part: Mapping[str, Any]) -> str:
    default = part.get("default")
    return "nothing is said" if default is None or default in NO_DEFAULT else as_flow(default)


def _wanted(part: Mapping[str, Any]) -> Iterator[Wanted]:
    """Return what may stand under a key, in words."""
    options = _options(part)
    if options:
        for option in options:
            yield from _wanted(option)
    elif "$ref" in part:
        yield from _referred(part["$ref"].rpartition("/")[2])
    elif "enum" in part or "const" in part:
        yield Wanted(", ".join(as_flow(word) for word in part.get("enum", [part.get("const")])))
    else:
        yield from _of_type(part)


def _referred(name: str) -> Iterator[Wanted]:
    number = NUMBER.fullmatch(name)
    if number is not None:
        dimension = number[2].replace("_", " ")
        words = dimension if number[1] == "quantity" else f"{dimension}, fixed or with a law"
        yield Wanted(words, anchor("unit", dimension))
    elif name in _anchors():
        yield Wanted(*_anchors()[name])
    else:  # a list of words
        yield from _wanted(json_schema()["$defs"][name])


@lru_cache(maxsize=1)
def _anchors() -> dict[str, tuple[str, str]]:
    """Return what every record of the schema is called here, and where it stands."""
    named = json_schema()["$defs"]
    found = {name: (_title(name), anchor("part", _title(name))) for name, part in named.items() if "properties" in part}
    for of, kinds in (("leg", LEG_KINDS), ("requirement", REQUIREMENT_KINDS)):
        found |= {_name_of(named, kind): (word, anchor(of, word)) for word, kind in kinds.items()}
    return found


def _of_type(part: Mapping[str, Any]) -> Iterator[Wanted]:
    match part.get("type"):
        case "integer":
            low, high = part.get("minimum"), part.get("maximum")
            yield Wanted("whole number" if low is None else f"whole number from {low} to {high}")
        case "array":
            inner: Mapping[str, Any] = part.get("items") or next(iter(part.get("prefixItems", ())), {})
            yield from (Wanted(f"list of {one.words}", one.about) for one in _wanted(inner))
        case "object" if isinstance(part.get("additionalProperties"), dict):
            yield from (Wanted(f"by name: {one.words}", one.about) for one in _wanted(part["additionalProperties"]))
        case "object" if part.get("properties", {}).keys() <= COST_KINDS.keys() and part.get("properties"):
            yield from (Wanted(f"{{{name}: ...}}", anchor("cost", name)) for name in part["properties"])
        case "object" if part.get("properties"):
            yield Wanted("{" + ", ".join(part["properties"]) + "}")
        case "object":
            yield Wanted("values by their places")
        case "null":
            return
        case kind:
            yield Wanted({"string": "text", "number": "number", "boolean": "true or false"}.get(str(kind), "anything"))
