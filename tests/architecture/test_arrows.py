"""The import arrows point one way, only the store knows the engine, only the command line prints."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "pipeline" / "lengthwise"
MODULES = sorted(PACKAGE.rglob("*.py"))

# A layer may import itself, the layers before it, and the foundation.
FLOW = ("ingest", "check", "store", "derive", "analyse", "report")
FOUNDATION = {
    "errors",
    "resources",
    "periods",
    "processes",
    "settings",
    "dictionary",
    "folder",
    "scratch",
    "statistics",
}
STATISTICS_MAY = {
    "numpy",
    "pandas",
    "scipy",
    "statsmodels",
    "firthmodels",
    "patsy",
    "lengthwise",
}
# Found when a cause is stated beside it; each needs its reason.
LONGER_THAN_300: dict[str, str] = {}


def imported(path: Path) -> set[str]:
    """Return the full names that a module imports, at any depth of the file."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module)
    return names


def layer(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_point_forward_only(path):
    here = layer(path)
    own = {name.split(".")[1] for name in imported(path) if name.startswith("lengthwise.")}
    if here in FLOW:
        allowed = {*FLOW[: FLOW.index(here) + 1], *FOUNDATION}
        # The report shows stored results: of the stages it may know the store alone.
        if here == "report":
            allowed -= {"ingest", "check", "derive", "analyse"}
        assert own <= allowed
    if here == "statistics":
        assert own <= {"statistics"}


def test_only_the_store_imports_the_engine():
    users = {
        layer(path)
        for path in MODULES
        if any(name.split(".")[0] == "duckdb" for name in imported(path))
    }
    assert users == {"store"}


def test_statistics_know_no_file_no_database_and_no_report():
    for path in (path for path in MODULES if layer(path) == "statistics"):
        import sys

        outside = {name.split(".")[0] for name in imported(path)} - set(sys.stdlib_module_names)
        assert outside <= STATISTICS_MAY, path.name
        assert not {"pathlib", "os", "io"} & imported(path), path.name


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_assert_no_print_and_no_long_file(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    assert not [node.lineno for node in ast.walk(tree) if isinstance(node, ast.Assert)]
    if path.name != "cli.py":
        calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call)]
        assert not [call.lineno for call in calls if getattr(call.func, "id", "") == "print"]
    lines = path.read_text(encoding="utf-8").count("\n")
    assert lines <= 300 or str(path.relative_to(PACKAGE)) in LONGER_THAN_300


def test_reports_hold_no_sql_and_no_model():
    for path in (ROOT / "reports").rglob("*.qmd"):
        text = path.read_text(encoding="utf-8").lower()
        for word in ("select ", "statsmodels", "import duckdb", "lengthwise.statistics"):
            assert word not in text, path.name


def test_help_imports_nothing_heavy():
    import subprocess
    import sys

    code = (
        "import sys\nfrom lengthwise.cli import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        "heavy = {'pandas', 'numpy', 'duckdb', 'statsmodels', 'plotnine', 'matplotlib', 'scipy'}\n"
        "sys.exit(','.join(sorted(heavy & set(sys.modules))) or 0)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
