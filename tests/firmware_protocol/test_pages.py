"""The handbook's pages on the board agree with its code."""

from __future__ import annotations

import re

from firmware_protocol.board import wiring
from firmware_protocol.settings import SETTING_TABLE
from tests.firmware_protocol.unix_board import ROOT

PIN = re.compile(r"^\| GP(\d+) \| `(\w+)` \|", re.MULTILINE)
NOT_PINS = {"LINK", "UART_BAUD", "SPEED_PWM_HZ", "WATCHDOG_MS"}


def test_wiring_page_has_every_pin() -> None:
    """The table of pins is that of the board's wiring file, pin by pin."""
    page = (ROOT / "docs/wiring.md").read_text(encoding="utf-8")
    shown = {name: int(number) for number, name in PIN.findall(page)}
    kept = {name: value for name, value in vars(wiring).items() if name.isupper()}
    assert shown == {name: value for name, value in kept.items() if name not in NOT_PINS}
    assert len(set(shown.values())) == len(shown), "no pin twice"


def test_commissioning_names_real_settings() -> None:
    """Twelve acts, each in the form too; every setting named there exists."""
    page = (ROOT / "docs/commissioning.md").read_text(encoding="utf-8")
    acts = re.findall(r"^\| (\d+) \|", page, re.MULTILINE)
    form = re.findall(r"^ ?(\d+)   ", page, re.MULTILINE)
    assert acts == form == [str(n) for n in range(1, 13)]
    named = set(re.findall(r"`(\w+_(?:per_turn|counts|mrpm|lock))`", page))
    assert named
    assert named <= {row[1] for row in SETTING_TABLE}


def test_pages_claim_no_safety_rating() -> None:
    """Each page says that it is no safety-rated function, and none claims a level."""
    for name in ("wiring.md", "wire-protocol.md"):
        page = " ".join((ROOT / "docs" / name).read_text(encoding="utf-8").lower().split())
        assert "safety-rated function" in page, name
        assert not re.search(r"\b(sil|pl)[ -]?[1-4a-e]\b", page), name
