"""The layout is the flow: each room imports only from the rooms before it."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "scheduler"

MAY_IMPORT = {
    "season": set(),
    "demand": {"season"},
    "plan": {"season", "demand"},
    "models": {"season", "demand", "plan"},
    "audit": {"season", "plan"},
    "answers": {"season", "demand", "plan", "models", "audit"},
    "paper": {"season", "demand", "plan", "audit", "answers"},
}

IN_MODELS = ["solvers", "day", "caps", "counts", "search", "replan"]  # each knows only those before it


def imports_of(path: Path, types: bool = True) -> set[str]:
    """Dotted names of all modules that a file imports, wherever in the file; ``types``: also those for types alone."""
    names, tree = set(), ast.parse(path.read_text(encoding="utf-8"))
    if not types:
        tree.body = [n for n in tree.body if not (isinstance(n, ast.If) and ast.unparse(n.test) == "TYPE_CHECKING")]
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def files_of(room: str) -> list[Path]:
    return sorted((PACKAGE / room).rglob("*.py"))


@pytest.mark.parametrize("room", sorted(MAY_IMPORT))
def test_rooms_import_only_from_rooms_before_them(room: str) -> None:
    allowed = MAY_IMPORT[room] | {room}
    for path in files_of(room):
        for name in imports_of(path):
            parts = name.split(".")
            if parts[0] == "scheduler" and len(parts) > 1 and parts[1] in MAY_IMPORT:
                assert parts[1] in allowed, f"{path.relative_to(PACKAGE)} imports {name}"


@pytest.mark.parametrize("room", IN_MODELS)
def test_rooms_of_the_models_import_only_from_rooms_before_them(room: str) -> None:
    later = tuple(f"scheduler.models.{other}" for other in IN_MODELS[IN_MODELS.index(room) + 1 :])
    for path in files_of(f"models/{room}"):
        for name in imports_of(path):
            assert not name.startswith(later), f"{path.relative_to(PACKAGE)} imports {name}"


def test_every_room_of_the_models_is_known() -> None:
    rooms = {p.name for p in (PACKAGE / "models").iterdir() if p.is_dir() and any(p.glob("*.py"))}
    assert rooms == set(IN_MODELS)


def test_only_models_know_solvers_and_only_the_engine_touches_the_solver_class() -> None:
    for path in PACKAGE.rglob("*.py"):
        room = path.relative_to(PACKAGE).parts[0]
        if any(name.split(".")[0] in ("ortools", "highspy") for name in imports_of(path)):
            assert room == "models", path
        if path.name != "engine.py":
            assert "CpSolver(" not in path.read_text(encoding="utf-8"), path


def test_files_stay_under_400_lines() -> None:
    for path in PACKAGE.rglob("*.py"):
        assert len(path.read_text(encoding="utf-8").splitlines()) <= 400, path


def test_no_circles_between_files() -> None:
    """Who changes a file need not read its readers. Imports inside functions count, those for types alone do not."""
    files = {".".join(("scheduler", *p.relative_to(PACKAGE).with_suffix("").parts)): p for p in PACKAGE.rglob("*.py")}
    arrows = {name: {n for n in imports_of(path, False) if n in files and n != name} for name, path in files.items()}
    while leaves := {name for name, to in arrows.items() if not to & arrows.keys()}:
        arrows = {name: to for name, to in arrows.items() if name not in leaves}
    assert not arrows, {name: sorted(to & arrows.keys()) for name, to in arrows.items()}


@pytest.mark.parametrize(
    "module",
    ["scheduler.cli", "scheduler.season.read", "scheduler.audit", "scheduler.plan.files", "scheduler.models.no_plan"],
)
def test_light_rooms_load_no_solver(module: str) -> None:
    """Help, check and audit start fast, and a trouble is named at once: no solver, no pandas."""
    code = f"import sys, {module}; print([m for m in ('ortools', 'pandas') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
