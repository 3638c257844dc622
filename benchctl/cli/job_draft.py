"""The answers of `job new` so far, on disk after each one, so that breaking it off loses none."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

from benchctl.models.whole_file import replace_whole


class Draft:
    """Answers in the order they were given, each with its question's name; `earlier` are those of before.

    A question that comes more than once (there may be several laps) has each of its answers. Where the file
    cannot be written, `trouble` says why, and the answers are there to be printed.
    """

    def __init__(self, path: Path | None) -> None:
        self._path = path
        self.answers: list[tuple[str, str]] = []
        self.earlier = [] if path is None else _read(path)
        self.trouble = ""

    def offered(self, name: str) -> str | None:
        """What was answered before to this question, the same time it was asked."""
        return next((text for one, text in self._rest() if one == name), None)

    def take(self, name: str, text: str) -> None:
        """Keep one more answer. What was answered before and is not yet asked again stays as well."""
        self.answers.append((name, text))
        if self._path is None:
            return
        try:
            self._path.parent.mkdir(parents=True, exist_ok=True)
            kept = json.dumps([*self.answers, *self._rest()], ensure_ascii=False)
            replace_whole(self._path, kept.encode("utf-8"))
            self.trouble = ""
        except OSError as error:
            self.trouble = (error.strerror or "not possible").lower()

    def again(self) -> None:
        """All is asked once more, from these answers."""
        self.earlier, self.answers = self.answers, []

    def drop(self) -> None:
        """The answers are not wanted any more, or stand in the mirror's file."""
        self.answers, self.earlier = [], []
        if self._path is not None and self._path.exists():
            self._path.unlink()

    def _rest(self) -> list[tuple[str, str]]:
        """The answers of before to what was not yet asked again."""
        asked = Counter(name for name, _ in self.answers)
        rest = []
        for name, text in self.earlier:
            if asked[name] > 0:
                asked[name] -= 1
            else:
                rest.append((name, text))
        return rest


def _read(path: Path) -> list[tuple[str, str]]:
    """The answers of an interview that was broken off; none where the file is none of ours."""
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
        return [(str(name), str(text)) for name, text in kept]
    except (OSError, ValueError, TypeError):
        return []
