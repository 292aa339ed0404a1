"""The JSON Schemas that editors use, written from the models that check the files.

`python -m expander.schemas` brings the files in `rules/` up to date.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from expander.catalogue.ensemblefile import ensemble_schema
from expander.catalogue.ensembles import shipped_folder
from expander.rulefile import rules_schema

SCHEMAS: dict[str, Callable[[], dict[str, Any]]] = {
    "rule-file.schema.json": rules_schema,
    "ensemble-file.schema.json": ensemble_schema,
}
"""The published files and what makes them."""


def text(name: str) -> str:
    """What a published schema file holds, the same for the same models."""
    return json.dumps(SCHEMAS[name](), ensure_ascii=False, indent=1, sort_keys=True) + "\n"


def folder() -> Path:
    """Where the published files stand: beside the shipped ensembles."""
    return shipped_folder().parent


def main() -> None:
    """Write every schema file anew."""
    for name in SCHEMAS:
        (folder() / name).write_text(text(name), encoding="utf-8")


if __name__ == "__main__":
    main()
