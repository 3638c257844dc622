"""A file is written whole or not at all, so that whoever reads it meets the old one or the new one."""

from __future__ import annotations

import os
from pathlib import Path


def replace_whole(path: Path, data: bytes) -> None:
    """Write `data` to a file beside `path`, which then takes its place, once it is on the disk.

    OSError where that cannot be done; what was there before stays.
    """
    beside = path.with_name(f".{path.name[:60]}.{os.getpid()}.part")
    try:
        with beside.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
