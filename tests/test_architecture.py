"""The shape of the house: which part may import which, how large a piece may be, what the board can run."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
BASICS = {"units", "errors"}

ARROWS: dict[str, set[str]] = {
    "units": {"errors"},
    "errors": set(),
    "clock": set(),
    "models": BASICS,
    "physics": {"units", "errors"},
    "lapwatch": {"models", "units", "errors"},
    "guard": {"lapwatch", "models", *BASICS},
    "segment": {"guard", "lapwatch", "models", *BASICS},
    "press": {"models", *BASICS},
    "link": {"firmware_protocol", "models", "clock", *BASICS},
    "logbook": {"models", *BASICS},
    "planner": {"physics", "models", *BASICS},
    "session": {
        "segment",
        "press",
        "link",
        "logbook",
        "planner",
        "guard",
        "lapwatch",
        "models",
        "clock",
        *BASICS,
    },
    "simulator": {"firmware_protocol", "physics", "models", "clock", *BASICS},
    "assembly": {
        "segment",
        "press",
        "session",
        "link",
        "simulator",
        "logbook",
        "lapwatch",
        "planner",
        "physics",
        "models",
        "clock",
        *BASICS,
    },
    "tui": {"session", "segment", "press", "guard", "planner", "logbook", "models", *BASICS},
    "cli": {
        "assembly",
        "tui",
        "session",
        "segment",
        "press",
        "guard",
        "planner",
        "physics",
        "lapwatch",
        "logbook",
        "link",
        "simulator",
        "models",
        "clock",
        *BASICS,
    },
    "__main__": {"cli"},
    "firmware_protocol": set(),
}
"""What each part may import of ours, besides itself."""

OUTSIDE: dict[str, set[str]] = {
    "serial": {"link/serial_port.py", "link/ports.py"},
    "textual": {"tui"},
    "pydantic": {"models"},
    "numpy": {"physics", "lapwatch", "planner", "simulator"},
    "pint": {"units.py"},
    "jinja2": {"logbook"},
    "time": {"clock.py"},
    "machine": {"firmware_protocol/board"},
    "platformdirs": {"assembly.py", "models", "cli", "tui", "assembly"},
}
"""Where an outside module may be imported, by folder or file."""

BOARD_MODULES = {"struct", "binascii", "collections", "micropython"}
BOARD_FOLDER_MODULES = BOARD_MODULES | {"machine", "time", "sys", "select", "array", "gc", "os", "rp2"}
MODULE_CEILING = 350
FUNCTION_CEILING = 50


class Module:
    """One source file, parsed."""

    def __init__(self, path: Path, root: Path = ROOT) -> None:
        self.path = path
        self.name = path.relative_to(root).as_posix()
        self.text = path.read_text(encoding="utf-8")
        self.tree = ast.parse(self.text)

    @property
    def part(self) -> str:
        """The part of the house it belongs to."""
        pieces = self.name.split("/")
        return pieces[0] if pieces[0] != "benchctl" else pieces[1].removesuffix(".py")

    def imports(self) -> Iterator[str]:
        """Dotted names of everything it imports at run time."""
        for node in walk_running(self.tree):
            if isinstance(node, ast.Import):
                yield from (alias.name for alias in node.names)
            elif isinstance(node, ast.ImportFrom):
                assert node.level == 0, f"{self.name}: imports are absolute"
                yield str(node.module)


def walk_running(tree: ast.AST) -> Iterator[ast.AST]:
    """All nodes but those under `if TYPE_CHECKING:`."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
            continue
        yield node
        yield from walk_running(node)


def modules() -> list[Module]:
    """Every source file of both packages."""
    files = [*ROOT.glob("benchctl/**/*.py"), *ROOT.glob("firmware_protocol/**/*.py")]
    return [Module(path) for path in sorted(files) if path.stat().st_size]


ALL = modules()


def ours(dotted: str) -> str | None:
    """The part of the house that a dotted name belongs to, or None for what is not ours."""
    pieces = dotted.split(".")
    if pieces[0] == "firmware_protocol":
        return "firmware_protocol"
    return pieces[1] if pieces[0] == "benchctl" and len(pieces) > 1 else None


def broken_arrows(module: Module) -> list[str]:
    """Imports of this module that its part may not make."""
    part = module.part
    if part == "__init__":
        return [name for name in module.imports() if ours(name) is not None]
    allowed = ARROWS[part] | {part}
    return [name for name in module.imports() if (target := ours(name)) is not None and target not in allowed]


def stray_outsiders(module: Module) -> list[str]:
    """Outside modules imported in a place that may not import them."""
    place = module.name.removeprefix("benchctl/")
    return [
        name
        for name in module.imports()
        if (top := name.split(".")[0]) in OUTSIDE
        and not module.name.startswith("firmware_protocol/board/")
        and not any(place == allowed or place.startswith(allowed + "/") for allowed in OUTSIDE[top])
    ]


def oversized(module: Module) -> list[str]:
    """The module, or functions of it, over the ceilings."""
    lines = module.text.count("\n") + 1
    found = [f"{module.name}: {lines} lines"] if lines > MODULE_CEILING else []
    for node in ast.walk(module.tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            length = (node.end_lineno or node.lineno) - node.lineno + 1
            if length > FUNCTION_CEILING:
                found.append(f"{module.name}:{node.name}: {length} lines")
    return found


def unfit_for_the_board(module: Module) -> list[str]:
    """What MicroPython on the board could not import or parse."""
    in_board = module.name.startswith("firmware_protocol/board/")
    allowed = BOARD_FOLDER_MODULES if in_board else BOARD_MODULES
    found = [
        f"import {name}"
        for name in module.imports()
        if name.split(".")[0] not in allowed | {"firmware_protocol"} and not (in_board and "." not in name)
    ]
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Match):
            found.append(f"match at line {node.lineno}")
        elif isinstance(node, ast.arguments) and node.posonlyargs:
            found.append("positional-only arguments")
        elif isinstance(node, ast.Raise) and node.cause is not None:
            found.append(f"raise from at line {node.lineno}")
        elif isinstance(node, ast.Constant) and isinstance(node.value, float) and not in_board:
            found.append(f"a float at line {node.lineno}")
        elif isinstance(node, ast.BinOp) and isinstance(node.op, ast.Div):
            found.append(f"true division at line {node.lineno}")
        elif isinstance(node, ast.Attribute) and node.attr in {
            "removeprefix",
            "removesuffix",
            "_replace",
            "_asdict",
        }:
            found.append(f".{node.attr} at line {node.lineno}")
    return found


@pytest.mark.parametrize("module", ALL, ids=lambda module: module.name)
def test_arrows(module: Module) -> None:
    """A part imports only the parts that the plan of the house lets it."""
    assert broken_arrows(module) == []


@pytest.mark.parametrize("module", ALL, ids=lambda module: module.name)
def test_outsiders(module: Module) -> None:
    """Serial port, screen, clock and numbers each have one place that may use their library."""
    assert stray_outsiders(module) == []


@pytest.mark.parametrize("module", ALL, ids=lambda module: module.name)
def test_ceilings(module: Module) -> None:
    """No module is over 350 lines, no function over 50."""
    assert oversized(module) == []


@pytest.mark.parametrize(
    "module", [m for m in ALL if m.part == "firmware_protocol"], ids=lambda module: module.name
)
def test_board_subset(module: Module) -> None:
    """What runs on the board keeps to whole numbers and to the Python that the board understands."""
    assert unfit_for_the_board(module) == []


def test_no_circles() -> None:
    """No module imports itself by way of others."""
    graph = {}
    for module in ALL:
        dotted = module.name.removesuffix(".py").replace("/", ".").removesuffix(".__init__")
        graph[dotted] = {name for name in top_level_imports(module) if ours(name) is not None}
    assert find_circle(graph) is None


def top_level_imports(module: Module) -> Iterator[str]:
    """Imports outside functions: those that can make a circle."""
    for node in module.tree.body:
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield str(node.module)


def find_circle(graph: dict[str, set[str]]) -> list[str] | None:
    """A path that leads back to its start, or None."""
    done: set[str] = set()

    def visit(name: str, path: list[str]) -> list[str] | None:
        if name in path:
            return [*path[path.index(name) :], name]
        if name in done or name not in graph:
            return None
        for target in sorted(graph[name]):
            if target != name and (circle := visit(target, [*path, name])):
                return circle
        done.add(name)
        return None

    return next((circle for name in graph if (circle := visit(name, []))), None)


def planted(tmp_path: Path, place: str, text: str) -> Module:
    """A module with a breach, as if it stood at `place`."""
    path = tmp_path / place
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    return Module(path, tmp_path)


def test_planted_breaches_are_seen(tmp_path: Path) -> None:
    """Each rule above fails when a breach of it is planted."""
    assert broken_arrows(planted(tmp_path, "benchctl/physics/x.py", "import benchctl.tui.app\n"))
    assert broken_arrows(
        planted(tmp_path, "benchctl/tui/x.py", "def f():\n    import firmware_protocol.frames\n")
    )
    assert stray_outsiders(planted(tmp_path, "benchctl/segment/x.py", "import time\n"))
    assert stray_outsiders(planted(tmp_path, "benchctl/session/x.py", "from serial import Serial\n"))
    assert oversized(planted(tmp_path, "benchctl/tui/y.py", "x = 1\n" * 360))
    assert oversized(planted(tmp_path, "benchctl/tui/z.py", "def f():\n" + "    x = 1\n" * 55))
    board = "firmware_protocol/x.py"
    breaches = (
        "import enum\n",
        "x = 0.5\n",
        "x = 3 / 2\n",
        "match 1:\n    case _:\n        pass\n",
        "def f(a, /):\n    pass\n",
        "try:\n    pass\nexcept ValueError as e:\n    raise OSError from e\n",
    )
    for breach in breaches:
        assert unfit_for_the_board(planted(tmp_path, board, breach)), breach
    assert find_circle({"a": {"b"}, "b": {"c"}, "c": {"a"}}) == ["a", "b", "c", "a"]


def test_the_start_is_light() -> None:
    """Asking for help or the version imports no screen, numbers or models library."""
    import subprocess
    import sys

    code = (
        "import sys\nfrom benchctl.cli import main\n"
        "try:\n    main([sys.argv[1]])\nexcept SystemExit:\n    pass\n"
        "print(sorted(set(sys.modules) & {'textual', 'numpy', 'pydantic', 'pint', 'serial', 'jinja2'}))"
    )
    for option in ("--help", "--version"):
        out = subprocess.run([sys.executable, "-c", code, option], capture_output=True, text=True, check=True)
        assert out.stdout.strip().endswith("[]"), out.stdout[-300:]
