"""The source runs no text, no shell and no network, and hands no text to markup. Each gate is tried out."""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.test_architecture import ALL

ROOT = Path(__file__).parent.parent.parent

RUNS_TEXT = {"eval", "exec", "compile", "__import__"}
RUNS_DATA = {"pickle", "marshal", "shelve", "dill", "yaml", "code", "runpy"}
NETWORK = {
    *("socket", "socketserver", "ssl", "http", "urllib", "ftplib", "smtplib", "telnetlib", "xmlrpc"),
    *("asyncio", "requests", "httpx", "aiohttp", "websockets", "webbrowser"),
}
SHELLS = {"system", "popen", "getoutput", "getstatusoutput", "create_subprocess_shell"}
MARKUP = {"from_markup"}


def imports(tree: ast.AST) -> Iterator[str]:
    """First names of everything imported, anywhere in the file."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module.split(".")[0]


def called(node: ast.Call) -> str:
    """The last name of what is called."""
    if isinstance(node.func, ast.Name):
        return node.func.id
    return node.func.attr if isinstance(node.func, ast.Attribute) else ""


def calls(tree: ast.AST) -> Iterator[ast.Call]:
    """All calls of a file."""
    return (node for node in ast.walk(tree) if isinstance(node, ast.Call))


def text_runners(tree: ast.AST) -> list[str]:
    """Where text or data is run as code. `re.compile` is something else."""
    found = [name for name in imports(tree) if name in RUNS_DATA]
    for call in calls(tree):
        if isinstance(call.func, ast.Name) and call.func.id in RUNS_TEXT:
            found.append(call.func.id)
        if any(key.arg == "allow_pickle" and not _is(key.value, False) for key in call.keywords):
            found.append("allow_pickle")
    return found


def shells(tree: ast.AST) -> list[str]:
    """Where a shell is asked, or a program is run by one text instead of a list of words."""
    found = []
    for call in calls(tree):
        if called(call) in SHELLS:
            found.append(called(call))
        if any(key.arg == "shell" and not _is(key.value, False) for key in call.keywords):
            found.append("shell")
        one_text = bool(call.args) and isinstance(call.args[0], ast.Constant | ast.JoinedStr)
        if one_text and called(call) in ("run", "Popen", "call", "check_output"):
            found.append("a program as one text")
    return found


def networks(tree: ast.AST) -> list[str]:
    """Where the network is imported."""
    return [name for name in imports(tree) if name in NETWORK]


def markups(tree: ast.AST) -> list[str]:
    """Where text may be read as markup: `from_markup`, or a widget's text without `markup=False`."""
    found = []
    for call in calls(tree):
        if called(call) in MARKUP:
            found.append(called(call))
        if called(call) in ("Static", "Label", "notify") and call.args:
            plain = any(key.arg == "markup" and _is(key.value, False) for key in call.keywords)
            if not plain and not isinstance(call.args[0], ast.Constant | ast.Call):
                found.append(called(call))
    return found


def _is(node: ast.expr, value: object) -> bool:
    return isinstance(node, ast.Constant) and node.value is value


def breaches(gate: Callable[[ast.AST], list[str]]) -> list[str]:
    """What a gate finds in the whole source."""
    return [f"{module.name}: {what}" for module in ALL for what in gate(module.tree)]


def test_nothing_runs_text() -> None:
    """No `eval`, `exec`, `pickle`, `yaml` or the like: files are data."""
    assert not breaches(text_runners)


def test_no_shell() -> None:
    """Programs are run by fixed lists of words, never through a shell."""
    assert not breaches(shells)


def test_nothing_knows_the_network() -> None:
    """No module of the network is imported."""
    assert not breaches(networks)


def test_no_text_becomes_markup() -> None:
    """No outside text is handed to anything that reads markup."""
    assert not breaches(markups)


@pytest.mark.parametrize(
    ("gate", "text"),
    [
        (text_runners, "eval(text)"),
        (text_runners, "import pickle"),
        (text_runners, "from yaml import load"),
        (text_runners, "numpy.load(file, allow_pickle=True)"),
        (shells, "os.system(text)"),
        (shells, "subprocess.run(words, shell=True)"),
        (shells, "subprocess.run(f'aplay {name}')"),
        (networks, "import socket"),
        (networks, "from urllib.request import urlopen"),
        (markups, "Content.from_markup(name)"),
        (markups, "Static(f'[b]{name}[/]')"),
        (markups, "self.notify(name)"),
    ],
)
def test_a_gate_sees_a_breach(gate: Callable[[ast.AST], list[str]], text: str) -> None:
    """Each gate finds what it is there for."""
    assert gate(ast.parse(text))


@pytest.mark.parametrize(
    ("gate", "text"),
    [
        (text_runners, "re.compile(words)"),
        (shells, "subprocess.run(words, check=False)"),
        (markups, "Static(name, markup=False)"),
        (markups, "Static('READY')"),
    ],
)
def test_a_gate_lets_the_rest_through(gate: Callable[[ast.AST], list[str]], text: str) -> None:
    """And nothing else."""
    assert not gate(ast.parse(text))
