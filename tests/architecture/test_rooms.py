"""The rules about the code, held by a short reading of its imports (design: rooms never import each other)."""

import ast
from pathlib import Path

import pytest

SOURCE = Path(__file__).parents[2] / "generator" / "benchgalley"
MODULES = sorted(SOURCE.rglob("*.py"))
TESTS = Path(__file__).parents[1]
ROOMS = ("intake", "derive", "claims", "caveats", "charts", "publish")

MAY_IMPORT = {
    "records": set(),
    "metrology": set(),
    "intake": {"records", "metrology"},
    "derive": {"records", "metrology"},
    "claims": {"records", "metrology"},
    "caveats": {"records", "metrology"},
    "charts": {"records", "metrology"},
    "publish": {"records"},
    "pipeline": {"records", "building", "reducing", *ROOMS},
    "building": {"records", "crews", "keeping", "making", "source_tree", "reducing", "turns", "intake", "publish"},
    "crews": {"records", "making", "source_tree", "reducing", "intake", "publish"},
    "making": {"records", "parts", "keeping", "source_tree", "kept_charts", *ROOMS},
    "kept_charts": {"records", "keeping", "source_tree", "charts", "publish"},
    "parts": {"records", "charts", "publish"},
    "keeping": {"records", "publish", "source_tree"},
    "source_tree": set(),
    "reducing": {"intake", "publish"},
    "turns": {"publish"},
    "commands": {"records", "pipeline"},
    "__init__": set(),
    "__main__": {"commands"},
}
"""Room -> the rooms it may import. The table of design section 8."""

LINES_AT_MOST = 350
METROLOGY_LIBRARIES = {"numpy", "scipy"}
EAGER_NEVER = {"pandas", "altair", "vl_convert", "scipy.stats", "playwright", "pint", "watchfiles"}
"""Libraries too heavy to load before a command needs them."""


def room_of(path: Path) -> str:
    return path.relative_to(SOURCE).parts[0].removesuffix(".py")


def imports(path: Path) -> list[tuple[str, bool]]:
    """(absolute dotted name, whether at module level) of every import in a module."""
    package = ["benchgalley", *path.relative_to(SOURCE).parent.parts]
    tree = ast.parse(path.read_text("utf-8"))
    top = {id(node) for node in tree.body}
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [(alias.name, id(node) in top) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            stem = ".".join([*base, *(node.module.split(".") if node.module else [])])
            found += [(f"{stem}.{alias.name}", id(node) in top) for alias in node.names]
    return found


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(SOURCE)))
def test_a_module_imports_only_the_rooms_it_may(path):
    room = room_of(path)
    for name, _ in imports(path):
        parts = name.split(".")
        if parts[0] != "benchgalley" or len(parts) < 2 or parts[1] in (room, "__version__"):
            continue
        assert parts[1] in MAY_IMPORT[room], f"{room} imports {name}"


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(SOURCE)))
def test_a_module_is_small_and_named_by_what_it_holds(path):
    assert len(path.read_text("utf-8").splitlines()) <= LINES_AT_MOST
    assert "util" not in path.stem and "helper" not in path.stem
    assert "TYPE_CHECKING" not in path.read_text("utf-8"), "no detours between rooms"


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(SOURCE)))
def test_heavy_libraries_load_when_needed(path):
    eager = {name for name, at_top in imports(path) if at_top}
    heavy = {name for name in eager for library in EAGER_NEVER if name == library or name.startswith(library + ".")}
    assert not heavy


@pytest.mark.parametrize("path", sorted((SOURCE / "metrology").glob("*.py")), ids=lambda p: p.name)
def test_metrology_knows_numbers_only(path):
    import sys

    outside = {n.split(".")[0] for n, _ in imports(path)} - set(sys.stdlib_module_names) - {"benchgalley"}
    assert outside <= METROLOGY_LIBRARIES


def test_every_room_of_the_design_is_there():
    rooms = {p.name for p in SOURCE.iterdir() if p.is_dir() and p.name != "__pycache__"}
    assert rooms == {"records", "metrology", "commands", *ROOMS}


def test_only_the_site_writer_writes_files():
    """Reading happens in intake and the template loader, writing in one module of publish."""
    writing = {"write_text", "write_bytes", "mkdir", "unlink", "rmtree", "rename", "replace", "symlink_to"}
    writers = set()
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
                continue
            # str.replace and dataclasses.replace share the name; a file is replaced by one argument.
            if node.func.attr in writing - {"replace", "rename"} or (
                node.func.attr == "replace" and len(node.args) == 1 and not node.keywords
            ):
                writers.add(path.relative_to(SOURCE).as_posix())
    assert writers <= {"publish/site_writer.py", "commands/starter.py", "commands/editing.py"}


def test_no_test_asks_how_long_something_took():
    """Machines are shared: speed is measured by the benchmarks, and printed. Patience with a process is no speed."""
    clocks = {"perf_counter", "perf_counter_ns", "process_time", "process_time_ns", "thread_time", "timeit"}
    asking = set()
    for path in TESTS.rglob("*.py"):
        nodes = list(ast.walk(ast.parse(path.read_text("utf-8"))))
        names = {n.attr for n in nodes if isinstance(n, ast.Attribute)}
        names |= {alias.name for n in nodes if isinstance(n, ast.Import | ast.ImportFrom) for alias in n.names}
        if clocks & names:
            asking.add(path.relative_to(TESTS))
    assert asking and {path.parts[0] for path in asking} == {"benchmarks"}, sorted(map(str, asking))
    assert not [path.name for path in asking if path.name.startswith("test_")]
