"""The JSON Schemas of what passes between machines, ready to hold files against."""

from __future__ import annotations

import json
from importlib.resources import files

from jsonschema import Draft202012Validator
from referencing import Registry, Resource

NAMES = ("task-file", "drill-file", "journal-entry", "hand-in", "signature")
SCHEMAS = {
    name: json.loads((files("labkit.exchange") / "schemas" / f"{name}.json").read_bytes())
    for name in NAMES
}
_REGISTRY = Registry().with_resources(
    (schema["$id"], Resource.from_contents(schema)) for schema in SCHEMAS.values()
)


def wrong_in(name: str, value: object) -> list[str]:
    """Where a value is not as the schema says; empty where it is."""
    validator = Draft202012Validator(SCHEMAS[name], registry=_REGISTRY)
    return [f"{error.json_path}: {error.message[:200]}" for error in validator.iter_errors(value)]
