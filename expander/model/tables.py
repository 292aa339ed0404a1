"""Facts in data files, which stand beside the code that uses them."""

from __future__ import annotations

import json
import tomllib
from functools import cache
from pathlib import Path
from typing import Any


@cache
def table(module: str, name: str) -> dict[str, Any]:
    """What a data file (TOML or JSON) in a module's folder holds; `module` is its `__file__`.

    Read once, and not to be changed.
    """
    text = Path(module).with_name(name).read_text(encoding="utf-8")
    data: dict[str, Any] = json.loads(text) if name.endswith(".json") else tomllib.loads(text)
    return data
