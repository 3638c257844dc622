"""`python -m benchctl`."""

from benchctl.cli import entry

entry()
