"""A command line that cannot be read is answered like other bad input: one sentence, and where help is."""

from __future__ import annotations

import argparse
import re
from typing import NoReturn

_SENTENCES = (
    (r"argument COMMAND: invalid choice: '(.*)' \(choose from (.*)\)", "'{0}' is not known; there is {1}"),
    (
        r"argument (.*): invalid choice: '(.*)' \(choose from (.*)\)",
        "{0}: '{1}' is not known; give one of {2}",
    ),
    (r"argument (.*): invalid int value: (.*)", "{0}: {1} is not a whole number"),
    (r"argument (.*): invalid float value: (.*)", "{0}: {1} is not a number"),
    (r"argument (.*): expected (?:one|at least one) argument", "{0} needs a value"),
    (r"argument (.*): not allowed with argument (.*)", "{0} does not go with {1}"),
    (r"the following arguments are required: (.*)", "{0} is missing"),
    (r"one of the arguments (.*) is required", "one of {0} is missing"),
    (r"unrecognized arguments: (.*)", "'{0}' means nothing here"),
)
"""What argparse says, and what it is to a person. What is not listed is said as it is."""


class Parser(argparse.ArgumentParser):
    """Says what is wrong in one sentence, without the list of all options before it."""

    def error(self, message: str) -> NoReturn:
        from benchctl.units import printable

        self.exit(2, f"benchctl: {printable(_sentence(message), 600)}; see `{self.prog} --help`\n")


def _sentence(message: str) -> str:
    for pattern, words in _SENTENCES:
        match = re.fullmatch(pattern, message, re.DOTALL)
        if match is not None:
            groups = list(match.groups())
            if "choose from" in pattern:
                groups[-1] = groups[-1].replace("'", "")
            return words.format(*groups)
    return message
