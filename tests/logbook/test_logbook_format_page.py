"""The page on the format names everything that is written, each field with its unit."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, get_args

import pytest
from pydantic import BaseModel

from benchctl.logbook.lines import ENVELOPE, Kind
from benchctl.models.decision import Decision, Predicted, Settings
from benchctl.models.inspection import Blemish, Inspection, ZoneLook
from benchctl.models.job import demo_job
from benchctl.models.press_record import PressRecord
from benchctl.models.segment_record import SegmentRecord
from benchctl.planner.marks import draw
from benchctl.session.bookkeeping import Bookkeeper, SegmentFacts
from benchctl.session.journal import Journal

PAGE = (Path(__file__).parents[2] / "docs" / "logbook-format.md").read_text(encoding="utf-8")
NAMES = set(ENVELOPE) | {"prev", "crc"} | set(get_args(Kind)) | draw([], 13, 7).fields().keys()
UNITS = {
    "_per_pa": "1/Pa", "_nm": "N m", "_rpm": "rpm", "_percent": "%", "_deg": "deg", "_turns": "turns",
    "_kg": "kg", "_depths_m": "m", "_m": "m", "_n": "N", "_s": "s", "_c": "°C",
}  # fmt: skip
"""The unit that the ending of a name says, the longer endings first."""


class Taken(Journal):
    """Keeps what a bookkeeper would write."""

    def __init__(self) -> None:
        self.fields: dict[str, Any] = {}

    def keep(self, kind: Kind, fields: Any) -> Any:
        self.fields = dict(fields)


def start_fields() -> set[str]:
    """What the start of a segment is written with."""
    journal = Taken()
    Bookkeeper(journal, SegmentFacts(demo_job(), simulated=True)).open(0.0, 6)
    return set(journal.fields)


MODELS: dict[str, tuple[type[BaseModel], ...]] = {
    "### The segment record": (SegmentRecord,),
    "### The press record": (PressRecord,),
    "### The inspection": (Inspection, ZoneLook, Blemish),
    "### The decision": (Decision, Settings, Predicted),
}
WRITTEN = {
    title: {name for model in models for name in model.model_fields} for title, models in MODELS.items()
}
WRITTEN["### The start of a segment"] = start_fields()
FIELDS = sorted((title, name) for title, names in WRITTEN.items() for name in names - {"event"})


def rows(title: str) -> dict[str, str]:
    """The unit of each field in the tables below a heading; several fields of a row share or list units."""
    found: dict[str, str] = {}
    part = PAGE.split(f"\n{title}\n")[1]
    for line in re.split(r"\n##+ ", part)[0].splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        names = re.findall(r"`(\w+)`", cells[0]) if line.startswith("| `") else []
        units = [unit.strip() for unit in cells[1].split(",")] if names else []
        found |= dict(zip(names, units if len(units) == len(names) else units * len(names), strict=False))
    return found


@pytest.mark.parametrize("name", sorted(NAMES))
def test_the_page_names_each_field_and_kind(name: str) -> None:
    """Every kind and every field of the envelope stands on the page in its own spelling."""
    assert f"`{name}`" in PAGE


@pytest.mark.parametrize(("title", "name"), FIELDS)
def test_each_field_stands_in_its_table_with_its_unit(title: str, name: str) -> None:
    """A row for each field of each record, and the unit is the one that the end of its name says."""
    units = rows(title)
    assert name in units, f"{title[4:]} has no row for `{name}`"
    ending = next((ending for ending in UNITS if name.endswith(ending)), None)
    if ending is not None:
        assert units[name] == UNITS[ending]


def test_the_page_names_no_field_that_is_not_written() -> None:
    """Every row of the tables is a field that some record has."""
    more = {"last_sign_at"}  # written beside the record of an interrupted one
    for title, names in WRITTEN.items():
        assert set(rows(title)) <= names | more, title


def test_a_blemish_of_the_page_is_one_of_the_model() -> None:
    """The kinds on the page are those that are taken."""
    kinds = PAGE.split("| `kind` | |")[1].split("|")[0]
    assert tuple(re.findall("`([^`]+)`", kinds)) == get_args(Blemish.model_fields["kind"].annotation)
