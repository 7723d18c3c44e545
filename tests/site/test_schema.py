"""The JSON Schema of the folder's files: valid, true to the models, and told when it drifts.

After a wanted change of the format write the committed schemas anew:
``python -m tests.site.test_schema`` from the top of the repository.
"""

from __future__ import annotations

import json
import tomllib
from datetime import date, datetime
from pathlib import Path

import jsonschema
import pytest

from tests.site.small_site import FIRST, FIRST_FILE, GROUND_FILE, texts
from wearplan.site import schemas

COMMITTED = Path(__file__).parent / "data" / "schema"
WISHES = 'margin = "half"\nstop_in = ["shaft"]\nbecause = "superintendent"\n'
FILES = {"ground.toml": GROUND_FILE, "inspection.toml": FIRST_FILE}


def as_text(schema) -> str:
    return json.dumps(schema, indent=1, ensure_ascii=False, sort_keys=True) + "\n"


def as_json(value):
    """TOML values as JSON has them."""
    if isinstance(value, dict):
        return {key: as_json(item) for key, item in value.items()}
    if isinstance(value, list):
        return [as_json(item) for item in value]
    return value.isoformat() if isinstance(value, date | datetime) else value


@pytest.mark.parametrize("name", sorted(schemas()))
def test_schema_has_not_drifted(name):
    assert as_text(schemas()[name]) == (COMMITTED / f"{name}.json").read_text(encoding="utf-8")


def test_every_committed_schema_is_still_made():
    assert {path.name for path in COMMITTED.glob("*.json")} == {f"{name}.json" for name in schemas()}


@pytest.mark.parametrize("name", sorted(schemas()))
def test_schema_is_valid_and_accepts_a_sound_file(name):
    schema = schemas()[name]
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    data = as_json(tomllib.loads({**texts(), "wishes.toml": WISHES}[FILES.get(name, name)]))
    assert [error.message for error in validator.iter_errors(data)] == []
    data["no_such_key"] = 1
    assert not validator.is_valid(data)


def test_schema_demands_exactly_one_way_of_reading():
    validator = jsonschema.Draft202012Validator(schemas()["inspection.toml"])
    for text, valid in (
        (FIRST, True),
        (FIRST.replace("wear_mm = 3.5\n", ""), False),
        (FIRST.replace("wear_mm = 3.5", 'wear_mm = 3.5\nnot_read = "not reached"'), False),
    ):
        assert validator.is_valid(as_json(tomllib.loads(text))) == valid


def test_every_key_of_a_schema_with_a_unit_is_a_number():
    """A unit in a key's name, and nothing but numbers (or lists of them) behind it."""

    def properties(node):
        if isinstance(node, dict):
            yield from node.get("properties", {}).items()
            for item in node.values():
                yield from properties(item)
        elif isinstance(node, list):
            for item in node:
                yield from properties(item)

    kinds = set()
    for schema in schemas().values():
        for key, value in properties(schema):
            if key.endswith(
                ("_mm", "_m", "_bar", "_deg", "_days", "_hours", "_pct", "_mpa", "_kpa", "_per_t", "_per_km")
            ):
                if key == "change_hours":
                    continue
                options = value.get("anyOf", [value])
                kinds |= {option.get("type") for option in options}
    assert kinds == {"number", "null", "array"}


def main() -> None:
    COMMITTED.mkdir(parents=True, exist_ok=True)
    for path in COMMITTED.glob("*.json"):
        path.unlink()
    for name, schema in schemas().items():
        (COMMITTED / f"{name}.json").write_text(as_text(schema), encoding="utf-8")


if __name__ == "__main__":
    main()
