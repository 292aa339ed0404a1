"""The JSON Schema of the rule file, for editors: from the same models that check it."""

from __future__ import annotations

from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from expander.rulefile.shape import RuleFile

DIALECT = "https://json-schema.org/draft/2020-12/schema"

_MAY_BE_EMPTY = ("array", "object")


def rules_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a rule file, with titles, descriptions and examples."""
    schema = RuleFile.model_json_schema(by_alias=True, schema_generator=_Generator)
    return {"$schema": DIALECT, **schema}


class _Generator(GenerateJsonSchema):
    """Leaves out what would only be noise in an editor: nulls for single values, null defaults."""

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        inner = self.generate_inner(schema["schema"])
        return super().nullable_schema(schema) if inner.get("type") in _MAY_BE_EMPTY else inner

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        if schema.get("default", ...) is None:
            return self.generate_inner(schema["schema"])
        return super().default_schema(schema)
