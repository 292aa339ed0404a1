"""Arrows between rooms point one way, and heavy libraries stay behind their doors."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.source import HOME, imports, modules, room

STAGES = ("plan", "voicing", "fitting", "notate")
DOORS = ("musicxml", "catalogue", "rulefile")
LOW = {"model", "errors", ""}  # the package itself for its version; the circle test guards it
WHOLE = {*LOW, *STAGES, *DOORS, "checks", "theory", "sounding", "ledger", "outputs", "pipeline"}

ARROWS: dict[str, set[str]] = {
    "": WHOLE,  # the public names
    "errors": set(),
    "model": {"errors"},
    "theory": LOW,
    "sounding": LOW,
    "ledger": {*LOW, "sounding"},
    "outputs": LOW,
    "musicxml": {*LOW, "outputs"},
    "catalogue": LOW,
    "rulefile": {*LOW, "catalogue"},  # names in rules are checked against the line-up
    **{stage: {*LOW, "theory"} for stage in STAGES},
    "checks": {*LOW, "catalogue", "theory"},
    "pipeline": WHOLE - {"pipeline"},
}
"""The rooms each room may import from, besides itself. The commands may import all of `WHOLE`."""

COMMANDS = {
    *("parts", "revoice", "merge", "outline", "batch", "report", "proof"),
    *("listing", "paper", "watch"),
}

KEEPERS = {
    "lxml": {"musicxml"},
    "music21": {"theory"},
    "pydantic": {"rulefile", "catalogue"},
    "yaml": {"rulefile", "catalogue"},
    "verovio": {"proof", "parts"},
    "typst": {"paper", "parts"},
    "jinja2": {"paper"},
    "matplotlib": {"outline", "paper"},
    "starlette": {"watch"},
    "uvicorn": {"watch"},
    "watchfiles": {"watch"},
    "typer": {"cli", "cli_common", "cli_merge", "cli_players", "cli_revoice"},
    "click": {"cli"},
}
"""The rooms that may import a library."""

HEAVY = ("music21", "verovio", "typst", "matplotlib", "numpy")
"""Libraries that start too slowly to load before the command that needs them runs."""


def allowed(name: str) -> set[str]:
    if name in ARROWS:
        return ARROWS[name]
    if name in COMMANDS:
        return {*WHOLE, *COMMANDS}
    return {
        *WHOLE,
        *COMMANDS,
        "cli",
        "cli_common",
        "cli_merge",
        "cli_players",
        "cli_revoice",
    }  # what stands at the top


@pytest.mark.parametrize("module", modules())
def test_a_module_imports_only_from_rooms_below_it(module: str) -> None:
    here = room(module)
    reached = {room(name) for name in imports(module, lazy=True) if name.startswith("expander")}
    assert reached - allowed(here) - {here} == set()


@pytest.mark.parametrize("module", modules())
def test_a_library_is_imported_behind_its_own_door_only(module: str) -> None:
    used = {name.split(".")[0] for name in imports(module, lazy=True)} & set(KEEPERS)
    strangers = {library for library in used if room(module) not in KEEPERS[library]}
    assert strangers == set()


@pytest.mark.parametrize("module", modules())
def test_heavy_libraries_are_imported_inside_functions(module: str) -> None:
    assert {name.split(".")[0] for name in imports(module, lazy=False)} & set(HEAVY) == set()


def test_no_modules_import_each_other_in_a_circle() -> None:
    graph = {
        module: {name for name in imports(module, lazy=False) if name in modules()} - {module}
        for module in modules()
    }
    # a package's __init__ that gathers its own modules is no circle unless they use it
    assert [sorted(circle) for circle in circles(graph)] == []


def circles(graph: dict[str, set[str]]) -> list[set[str]]:
    """The sets of modules that reach each other."""
    reach = {name: _reached(graph, name) for name in graph}
    found: list[set[str]] = []
    for name in graph:
        circle = {other for other in reach[name] if name in reach[other]}
        if circle and circle not in found:
            found.append(circle)
    return found


def _reached(graph: dict[str, set[str]], start: str) -> set[str]:
    seen: set[str] = set()
    waiting = [*graph[start]]
    while waiting:
        name = waiting.pop()
        if name not in seen:
            seen.add(name)
            waiting += graph[name]
    return seen


def test_circles_are_found() -> None:
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}}) == [{"a", "b", "c"}]


def test_the_command_line_starts_without_heavy_libraries() -> None:
    if "expander.cli" not in modules():
        pytest.skip("there is no command line yet")
    asked = "import expander.cli, sys; print(*sys.modules)"
    told = subprocess.run(
        [sys.executable, "-c", asked], cwd=HOME, capture_output=True, text=True, check=True
    )
    assert set(HEAVY) & set(told.stdout.split()) == set()
