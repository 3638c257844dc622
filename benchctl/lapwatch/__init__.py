"""The lap watcher: is the lap turning true, jerking, slowing, stopped - or is only its pickup bad?"""

from benchctl.lapwatch.settings import WatchSettings
from benchctl.lapwatch.summary import WatchSummary
from benchctl.lapwatch.verdict import LapState, Verdict
from benchctl.lapwatch.watch import LapWatch

__all__ = ["LapState", "LapWatch", "Verdict", "WatchSettings", "WatchSummary"]
