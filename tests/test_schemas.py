"""The published JSON Schemas are those of the models, and accept what is shipped."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
import yaml

from expander import schemas

ROOT = Path(__file__).parent.parent
RULE_FILES = sorted((ROOT / "samples").glob("*.yaml"))
ENSEMBLES = sorted((ROOT / "rules" / "ensembles").glob("*.yaml"))


@pytest.mark.parametrize("name", schemas.SCHEMAS)
def test_a_published_schema_is_up_to_date(name: str) -> None:
    assert (schemas.folder() / name).read_text(encoding="utf-8") == schemas.text(name)


@pytest.mark.parametrize(
    ("file", "schema"),
    [(file, "rule-file.schema.json") for file in RULE_FILES]
    + [(file, "ensemble-file.schema.json") for file in ENSEMBLES],
    ids=lambda value: value.name if isinstance(value, Path) else "",
)
def test_a_shipped_file_suits_its_schema(file: Path, schema: str) -> None:
    data = yaml.safe_load(file.read_text(encoding="utf-8"))
    jsonschema.validate(data, json.loads(schemas.text(schema)))
