"""Every error a caller may want to catch.

BenchError
  BadInput (ValueError)      a person's input was refused: one sentence, exit status 2
  LinkError (OSError)        the link could not be opened, or was lost: exit status 4
    PortUnavailable          not there, in use, or not permitted
    LinkLost                 it was open and is gone
  IllegalEvent (RuntimeError)  an event that the present state does not allow: a defect of ours
  LogbookError (OSError)     a record could not be kept
"""

from __future__ import annotations


class BenchError(Exception):
    """Base of all errors raised on purpose."""


class BadInput(BenchError, ValueError):
    """Refused input. The message says what, where, the limit and what to do, in one sentence."""


class LinkError(BenchError, OSError):
    """The link to the board failed."""


class PortUnavailable(LinkError):
    """The port is not there, is in use by another program, or may not be opened by this user."""


class LinkLost(LinkError):
    """The port was open and has gone."""


class IllegalEvent(BenchError, RuntimeError):
    """The state named in the message does not allow the event named in it; nothing was changed."""


class LogbookError(BenchError, OSError):
    """A record could not be written or read."""
