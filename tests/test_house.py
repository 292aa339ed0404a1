"""The rules of the house, read from the source: docstrings, short and flat bodies, clean words."""

from __future__ import annotations

import ast
import re
import warnings
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.source import HOME, modules, tree

LONGEST_BODY = 50  # lines, without the docstring
DEEPEST = 3  # blocks inside each other
LONGEST_FILE = 450  # lines; about 400 is the aim

EXCEPTIONS: dict[str, set[str]] = {"docstring": set(), "body": set(), "nesting": set()}
"""Names let off a rule, as `module:name`. Kept empty."""

SHIPPED = ("expander", "rules", "samples", "tests", "README.md", "DEVELOPERS.md", "pyproject.toml")
TEXT = {".py", ".md", ".toml", ".yaml", ".yml", ".json", ".csv", ".txt", ".cfg", ".html", ".css"}

UNWANTED = [
    r"\bshared/",
    r"seed " + "document",
    r"\bwork" + "place",
    r"/wor" + "k/",
    r"\bbrief" + r"\.md",
    r"\bhelper " + "tools?",
    r"\b(?:language|A" + r"I) model\b",
    r"\bA" + r"I\b",
    r"\bchat" + "bot",
    r"\bTO" + "DO\b",
    r"\bFIX" + "ME\b",
]
"""Words that have no place in what is shipped (spelled apart so that this list is not one)."""

Function = ast.FunctionDef | ast.AsyncFunctionDef


def functions(module: str) -> Iterator[tuple[str, Function]]:
    """Every function of a module, methods and inner ones too, with its dotted name."""
    yield from _functions(tree(module), module + ":")


def _functions(node: ast.AST, prefix: str) -> Iterator[tuple[str, Function]]:
    for child in ast.iter_child_nodes(node):
        if isinstance(child, Function):
            yield prefix + child.name, child
            yield from _functions(child, f"{prefix}{child.name}.")
        elif isinstance(child, ast.ClassDef):
            yield from _functions(child, f"{prefix}{child.name}.")
        else:
            yield from _functions(child, prefix)


def public(module: str) -> Iterator[tuple[str, ast.AST]]:
    """The module, its public classes and functions and their public methods."""
    yield module + ":", tree(module)
    yield from _public(tree(module), module + ":")


def _public(node: ast.Module | ast.ClassDef, prefix: str) -> Iterator[tuple[str, ast.AST]]:
    for child in node.body:
        if isinstance(child, Function | ast.ClassDef) and not child.name.startswith("_"):
            yield prefix + child.name, child
            if isinstance(child, ast.ClassDef):
                yield from _public(child, f"{prefix}{child.name}.")


def body_lines(function: Function) -> int:
    """Lines of a function's body without its docstring."""
    body = function.body[1:] if ast.get_docstring(function) else function.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


def depth(node: ast.AST) -> int:
    """How many blocks stand inside each other; an elif does not stand inside its if."""
    return max((_depth(child) for child in ast.iter_child_nodes(node)), default=0)


def _depth(node: ast.AST) -> int:
    if isinstance(node, Function | ast.ClassDef | ast.Lambda):
        return 0
    blocks = ast.If | ast.For | ast.While | ast.With | ast.Try | ast.Match
    if not isinstance(node, blocks):
        return depth(node)
    if isinstance(node, ast.If) and len(node.orelse) == 1 and isinstance(node.orelse[0], ast.If):
        inside = max((_depth(child) for child in node.body), default=0)
        return max(1 + inside, _depth(node.orelse[0]))
    return 1 + depth(node)


@pytest.mark.parametrize("module", modules())
def test_every_public_name_has_a_docstring(module: str) -> None:
    bare = {name for name, node in public(module) if not ast.get_docstring(node)}
    assert bare - EXCEPTIONS["docstring"] == set()


@pytest.mark.parametrize("module", modules())
def test_no_body_is_longer_than_50_lines(module: str) -> None:
    lengths = {name: body_lines(f) for name, f in functions(module)}
    long = {name for name, lines in lengths.items() if lines > LONGEST_BODY}
    assert long - EXCEPTIONS["body"] == set()


@pytest.mark.parametrize("module", modules())
def test_no_flow_is_nested_deeper_than_4_and_3_is_the_aim(module: str) -> None:
    deep = {name: depth(f) for name, f in functions(module) if depth(f) > DEEPEST}
    for name, found in deep.items():
        warnings.warn(f"{name} is nested {found} deep", stacklevel=1)
    assert {name for name, found in deep.items() if found > DEEPEST + 1} == set()


@pytest.mark.parametrize("module", modules())
def test_no_file_is_longer_than_450_lines(module: str) -> None:
    lines = modules()[module].read_text(encoding="utf-8").splitlines()
    assert len(lines) <= LONGEST_FILE


def shipped_files() -> Iterator[Path]:
    """The text files that go out with the package."""
    for name in SHIPPED:
        top = HOME / name
        for path in [top] if top.is_file() else sorted(top.rglob("*")):
            if path.is_file() and path.suffix in TEXT and "__pycache__" not in path.parts:
                yield path


@pytest.mark.parametrize("word", UNWANTED)
def test_no_shipped_file_holds_an_unwanted_word(word: str) -> None:
    pattern = re.compile(word)
    places = [
        f"{path.relative_to(HOME)}:{number}"
        for path in shipped_files()
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if pattern.search(line)
    ]
    assert places == []


def test_lists_of_exceptions_are_empty() -> None:
    assert not any(EXCEPTIONS.values())


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ("def f():\n  pass", 0),
        ("def f():\n  if a:\n    for b in c:\n      d", 2),
        ("def f():\n  if a:\n    b\n  elif c:\n    d\n  else:\n    e", 1),
        ("def f():\n  with a:\n    try:\n      b\n    except C:\n      if d:\n        e", 3),
    ],
)
def test_depth_counts_blocks_inside_each_other(source: str, found: int) -> None:
    assert depth(ast.parse(source).body[0]) == found


def test_a_long_body_is_counted_without_its_docstring() -> None:
    function = ast.parse('def f():\n  """A\n  B\n  """\n  a\n  b').body[0]
    assert isinstance(function, ast.FunctionDef)
    assert body_lines(function) == 2
