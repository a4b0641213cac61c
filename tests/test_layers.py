"""Imports run one way: core <- bank <- jobs <- window, core <- documents <- window, core <- formats <- jobs."""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "sporebank"

MAY_IMPORT = {
    "core": {"core"},
    "bank": {"core", "bank", "paths"},
    "formats": {"core", "formats", "paths"},
    "documents": {"core", "documents", "paths"},
    "jobs": {"core", "bank", "formats", "jobs", "paths"},
    "window": {"core", "bank", "formats", "documents", "jobs", "window", "paths"},
}
OUTSIDE = {
    "PySide6": {"window"},
    "shiboken6": {"window"},
    "peewee": {"bank"},
    "sqlite3": {"bank"},
    "reportlab": {"documents"},
    "qrcode": {"documents"},
    "pyqtgraph": {"window"},
    "zxingcpp": {"formats"},
    "PIL": {"formats"},
    "openpyxl": {"formats"},
}
NOT_IN_CORE = {"os", "pathlib", "io", "random", "time", "subprocess", "socket", "shutil", "tempfile", "sqlite3"}
FILES = sorted(PACKAGE.rglob("*.py"))


def imports(path: Path) -> list[tuple[int, str]]:
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [(node.lineno, alias.name) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno} imports by a relative name"
            found.append((node.lineno, node.module or ""))
            found += [(node.lineno, f"{node.module}.{alias.name}") for alias in node.names]
    return found


def layer_of(path: Path) -> str:
    parts = path.relative_to(PACKAGE).parts
    return parts[0] if len(parts) > 1 else ""


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_run_one_way(path):
    layer = layer_of(path)
    wrong = []
    for line, name in imports(path):
        top, *rest = name.split(".")
        if top == "sporebank" and layer and rest and rest[0] != "__version__" and rest[0] not in MAY_IMPORT[layer]:
            wrong.append(f"{path.relative_to(ROOT)}:{line} imports {name}")
        if top in OUTSIDE and layer and layer not in OUTSIDE[top]:
            wrong.append(f"{path.relative_to(ROOT)}:{line} imports {name}")
        if layer == "core" and top in NOT_IN_CORE:
            wrong.append(f"{path.relative_to(ROOT)}:{line} imports {name}")
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_file_grows_past_its_ceiling(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    documented = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef) and (
            ast.get_docstring(node) is not None
        ):
            documented |= set(range(node.body[0].lineno, node.body[0].end_lineno + 1))
    lines = path.read_text(encoding="utf-8").splitlines()
    code = [
        line
        for number, line in enumerate(lines, 1)
        if line.strip() and not re.match(r"\s*#", line) and number not in documented
    ]
    assert len(code) <= 400, f"{path.relative_to(ROOT)} has {len(code)} code lines"


def put_off(path: Path) -> list[tuple[dict[str, str], dict[str, str]]]:
    """Return what each `if TYPE_CHECKING:` with an `else` imports, by name, and what `Later` is to import for it."""
    found = []
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
            imported = {
                alias.asname or alias.name: f"{one.module}.{alias.name}"
                for one in node.body
                if isinstance(one, ast.ImportFrom)
                for alias in one.names
            }
            later = {
                one.targets[0].id: ast.literal_eval(one.value.args[0])
                for one in node.orelse
                if isinstance(one, ast.Assign) and isinstance(one.value, ast.Call) and one.value.func.id == "Later"
            }
            found.append((imported, later))
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_what_is_imported_later_is_what_the_type_checker_was_told(path):
    for imported, later in put_off(path):
        assert later == {name: imported.get(name) for name in later}
        assert all((ROOT / f"{module.replace('.', '/')}.py").is_file() for module in later.values())


def test_core_reads_no_clock():
    for path in FILES:
        if layer_of(path) == "core":
            text = path.read_text(encoding="utf-8")
            assert not re.search(r"\.now\(|\.today\(\)|\bopen\(", text), path


def test_nobody_asks_a_widget_for_its_screen():
    """PySide then takes the screen for a child of the widget, and crashes come long after; see `window/screens`."""
    asking = [
        f"{path.name}:{node.lineno}"
        for path in FILES
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "screen"
    ]
    assert asking == []
