"""The package's own source as trees, for the tests that watch its shape."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

HOME = Path(__file__).resolve().parent.parent
PACKAGE = HOME / "expander"


@cache
def modules() -> dict[str, Path]:
    """Every module of the package by its dotted name."""
    return {_dotted(path): path for path in sorted(PACKAGE.rglob("*.py"))}


def _dotted(path: Path) -> str:
    parts = path.relative_to(HOME).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@cache
def tree(module: str) -> ast.Module:
    """A module's syntax tree."""
    return ast.parse(modules()[module].read_text(encoding="utf-8"))


def imports(module: str, *, lazy: bool) -> Iterator[str]:
    """The modules a module imports; inside functions too if `lazy`. Type-checking ones count.

    `from expander.model import pitch` names `expander.model.pitch` where that is a module.
    """
    for node in _import_nodes(tree(module), lazy=lazy):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
            continue
        base = _base(module, node)
        for alias in node.names:
            longer = f"{base}.{alias.name}"
            yield longer if longer in modules() else base


def _import_nodes(node: ast.AST, *, lazy: bool) -> Iterator[ast.Import | ast.ImportFrom]:
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Import | ast.ImportFrom):
            yield child
        elif lazy or not isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef):
            yield from _import_nodes(child, lazy=lazy)


def _base(module: str, node: ast.ImportFrom) -> str:
    if not node.level:
        return node.module or ""
    package = modules()[module].name == "__init__.py"
    above = module.split(".")[: len(module.split(".")) - node.level + package]
    return ".".join([*above, node.module] if node.module else above)


def room(module: str) -> str:
    """The room a module of the package is in: `model`, `cli`, ... ; the package itself is ``."""
    return module.split(".")[1] if "." in module else ""
