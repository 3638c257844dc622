"""Records that cannot be put on disk: say so at once, stop the segment when it lasts."""

from __future__ import annotations

from benchctl.guard.sight import Finding

STOP_AFTER_S = 20.0
"""Records are held in memory and tried again every ten seconds; after a second refusal the segment stops."""


class DiskRule:
    """Watches whether records are kept."""

    def __init__(self) -> None:
        self._since_s: float | None = None

    def see(self, kept: bool, now_s: float) -> list[Finding]:
        """What to say and do while records are not kept; nothing while they are."""
        if kept:
            self._since_s = None
            return []
        self._since_s = now_s if self._since_s is None else self._since_s
        waited_s = now_s - self._since_s
        found = Finding("record_not_kept", f"it stops in {max(0.0, STOP_AFTER_S - waited_s):.0f} s")
        return [found._replace(trip="disk_full")] if waited_s >= STOP_AFTER_S else [found]
