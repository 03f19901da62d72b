"""The part of JSON Schema 2020-12 that the study's schema uses, so that it can be tried without a further package."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sized
from typing import Any

__all__ = ["KEYWORDS", "accepts"]

Schema = Mapping[str, Any]

_TYPES: dict[str, Callable[[Any], bool]] = {
    "object": lambda v: isinstance(v, dict),
    "array": lambda v: isinstance(v, list),
    "string": lambda v: isinstance(v, str),
    "integer": lambda v: isinstance(v, int) and not isinstance(v, bool),
    "number": lambda v: isinstance(v, int | float) and not isinstance(v, bool),
    "boolean": lambda v: isinstance(v, bool),
    "null": lambda v: v is None,
}
_ANNOTATIONS = {"$schema", "$defs", "title", "description", "default", "examples", "prefixItems"}


def accepts(schema: Schema, value: Any, root: Schema) -> bool:
    """Tell whether a value fits a schema; a keyword that is not known here is an error."""
    unknown = set(schema) - set(KEYWORDS) - _ANNOTATIONS - {"items"}
    if unknown:
        raise ValueError(f"keywords {unknown} are not known")
    return all(check(schema, value, root) for key, check in KEYWORDS.items() if key in schema) and _items(
        schema, value, root
    )


def _items(schema: Schema, value: Any, root: Schema) -> bool:
    if not isinstance(value, list):
        return True
    first = schema.get("prefixItems", [])
    rest = value[len(first) :] if "items" in schema else []
    pairs = [*zip(first, value, strict=False), *((schema["items"], inner) for inner in rest)]
    return all(accepts(part, inner, root) for part, inner in pairs)


def _reference(schema: Schema, value: Any, root: Schema) -> bool:
    return accepts(root["$defs"][schema["$ref"].removeprefix("#/$defs/")], value, root)


def _properties(schema: Schema, value: Any, root: Schema) -> bool:
    known = schema["properties"]
    return not isinstance(value, dict) or all(accepts(known[k], v, root) for k, v in value.items() if k in known)


def _additional(schema: Schema, value: Any, root: Schema) -> bool:
    if not isinstance(value, dict):
        return True
    others = [inner for key, inner in value.items() if key not in schema.get("properties", {})]
    allowed = schema["additionalProperties"]
    return (allowed or not others) if isinstance(allowed, bool) else all(accepts(allowed, v, root) for v in others)


def _count(key: str, kind: type[Sized], fits: Callable[[int, int], bool]) -> Callable[[Schema, Any, Schema], bool]:
    def check(schema: Schema, value: Any, root: Schema) -> bool:
        del root  # a length refers to nothing
        return not isinstance(value, kind) or fits(len(value), schema[key])

    return check


KEYWORDS: dict[str, Callable[[Schema, Any, Schema], bool]] = {
    "$ref": _reference,
    "type": lambda s, v, _: any(_TYPES[t](v) for t in ([s["type"]] if isinstance(s["type"], str) else s["type"])),
    "const": lambda s, v, _: bool(v == s["const"]),
    "enum": lambda s, v, _: v in s["enum"],
    "pattern": lambda s, v, _: not isinstance(v, str) or re.search(s["pattern"], v) is not None,
    "anyOf": lambda s, v, root: any(accepts(part, v, root) for part in s["anyOf"]),
    "oneOf": lambda s, v, root: sum(accepts(part, v, root) for part in s["oneOf"]) == 1,
    "properties": _properties,
    "required": lambda s, v, _: not isinstance(v, dict) or set(s["required"]) <= set(v),
    "additionalProperties": _additional,
    "propertyNames": lambda s, v, root: not isinstance(v, dict) or all(accepts(s["propertyNames"], k, root) for k in v),
    "minimum": lambda s, v, _: not _TYPES["number"](v) or bool(v >= s["minimum"]),
    "maximum": lambda s, v, _: not _TYPES["number"](v) or bool(v <= s["maximum"]),
    "minProperties": _count("minProperties", dict, lambda n, least: n >= least),
    "maxProperties": _count("maxProperties", dict, lambda n, most: n <= most),
    "minItems": _count("minItems", list, lambda n, least: n >= least),
    "maxItems": _count("maxItems", list, lambda n, most: n <= most),
    "minLength": _count("minLength", str, lambda n, least: n >= least),
    "maxLength": _count("maxLength", str, lambda n, most: n <= most),
}
"""Every keyword known, by name."""
