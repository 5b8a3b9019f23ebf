"""Every package that the product imports itself is declared in pyproject.toml, and each declared one is used."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import threading
import tomllib
from importlib.metadata import packages_distributions
from importlib.util import find_spec
from pathlib import Path

import pytest

from pipeline.imports import TO_FIT, imported_beside

ROOT = Path(__file__).parents[1]
OURS = {"pipeline", "queries", "reports", "sample_logs", "tests"}
NEEDS_AN_EXTRA = {"pipeline/store/spark.py": "spark", "reports/screenshots.py": "test"}


def _project() -> dict:
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


def _names(requirements: list[str]) -> set[str]:
    return {re.split(r"[\s<>=!~\[;]", wanted)[0].lower().replace("_", "-") for wanted in requirements}


def _imported(folder: str) -> dict[str, set[str]]:
    """Distributions imported by name anywhere under ``folder``, each with the files that do."""
    by_name: dict[str, set[str]] = {}
    known = packages_distributions()
    for path in sorted((ROOT / folder).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            modules = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            modules += [node.module or ""] if isinstance(node, ast.ImportFrom) and not node.level else []
            for top in {module.split(".")[0] for module in modules} - OURS - sys.stdlib_module_names - {""}:
                for name in known.get(top, [top]):
                    by_name.setdefault(name.lower().replace("_", "-"), set()).add(path.relative_to(ROOT).as_posix())
    return by_name


def test_every_direct_import_is_declared() -> None:
    project = _project()
    extras = {name: _names(wanted) for name, wanted in project["optional-dependencies"].items()}
    declared = _names(project["dependencies"])
    for folder in ("pipeline", "reports", "queries", "sample_logs", "tests"):
        for name, files in _imported(folder).items():
            for file in files:
                allowed = (
                    set().union(*extras.values()) if folder == "tests" else extras.get(NEEDS_AN_EXTRA.get(file, ""))
                )
                assert name in declared | (allowed or set()), f"{file} imports {name}, which pyproject.toml lacks"


def test_every_dependency_is_used() -> None:
    used = {name for folder in ("pipeline", "reports") for name in _imported(folder)}
    assert _names(_project()["dependencies"]) <= used


def test_a_plan_imports_nothing_that_only_fitting_needs() -> None:
    wanted = "import sys, pipeline.decisions.plan.block_plan, pipeline.decisions.period, pipeline.decisions.scope"
    slow = ("scipy.linalg", "scipy.stats", "scipy.optimize", "sklearn", "statsmodels", "altair", "rich")
    command = [sys.executable, "-c", f"{wanted}; print([name for name in {slow} if name in sys.modules])"]
    assert subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT).stdout == "[]\n"


def test_modules_are_there_when_what_they_were_imported_beside_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("colorsys", "sndhdr_of_nobody"):
        monkeypatch.delitem(sys.modules, name, raising=False)
    with imported_beside(("sndhdr_of_nobody", "colorsys")):
        pass
    assert "colorsys" in sys.modules
    assert not any(thread.name == "imports" for thread in threading.enumerate())
    assert all(find_spec(name) is not None for name in TO_FIT)
