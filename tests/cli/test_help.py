"""`--help`: every command says what it does, and what each of its words and options means."""

from __future__ import annotations

import argparse
from collections.abc import Iterator

import pytest

from benchctl.cli import COMMANDS, _parser


def commands(parser: argparse.ArgumentParser) -> Iterator[argparse.ArgumentParser]:
    """A command and the commands within it."""
    yield parser
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for one in action.choices.values():
                yield from commands(one)


def of(name: str) -> list[argparse.ArgumentParser]:
    """The parsers of one command, its own and those of the commands within it."""
    return [one for one in commands(_parser(name)) if one.prog.split()[1:2] == [name]]


@pytest.mark.parametrize("name", [name for name, _ in COMMANDS])
def test_every_option_says_what_it_means(name: str) -> None:
    """No word and no option is listed without its meaning."""
    parsers = of(name)
    assert parsers
    silent = [
        f"{one.prog}: {'/'.join(action.option_strings) or action.dest}"
        for one in parsers
        for action in one._actions
        if not action.help and not isinstance(action, argparse._SubParsersAction)
    ]
    assert silent == []


@pytest.mark.parametrize("name", [name for name, _ in COMMANDS])
def test_every_command_says_what_it_does(name: str) -> None:
    """In a sentence above its options; where commands are within it, they do."""
    parsers = of(name)
    told = [one.prog for one in parsers if not one.description and one._subparsers is None]
    assert told == []
