"""Quantities as people are shown them, against published conversion factors.

The factors are those of NIST Special Publication 811 (2008), appendix B.8; from memory.
"""

from __future__ import annotations

import pytest

from benchctl import units

NIST = [
    (units.LENGTH, 0.0254, "1.00 in"),
    (units.MASS, 0.45359237, "1.0 lb"),
    (units.PRESSURE, 6894.757, "1.00 psi"),
    (units.FORCE, 4.448222, "1.0 lbf"),
    (units.TORQUE, 1.355818, "1.00 lbf ft"),
    (units.SPEED, 0.0254, "1.0 in/s"),
    (units.TEMPERATURE, 100.0, "212.0 °F"),
    (units.TEMPERATURE, -40.0, "-40.0 °F"),
]


@pytest.mark.parametrize(("kind", "value", "shown"), NIST)
def test_shown_in_inches_and_pounds(kind: units.Kind, value: float, shown: str) -> None:
    """What one unit of the inch system is in SI is shown as one of it."""
    assert units.show(value, kind, units.INCH) == shown


def test_shown_in_metric() -> None:
    """The metric system shows millimetres, kilograms, kilopascals, newtons and degrees Celsius."""
    shown = [
        units.show(0.128, units.LENGTH),
        units.show(14.04, units.MASS),
        units.show(2510.0, units.PRESSURE),
        units.show(189.3, units.FORCE),
        units.show(0.3, units.TORQUE),
        units.show(20.0, units.TEMPERATURE),
    ]
    assert shown == ["128 mm", "14.0 kg", "2.51 kPa", "189 N", "0.30 N m", "20.0 °C"]


@pytest.mark.parametrize("system", [units.METRIC, units.INCH])
@pytest.mark.parametrize("kind", [units.LENGTH, units.MASS, units.PRESSURE])
def test_what_is_shown_can_be_typed_again(kind: units.Kind, system: str) -> None:
    """A quantity written as it was shown is read as the value it was, to the figures shown."""
    assert units.read(units.show(0.7, kind, system, 8), kind) == pytest.approx(0.7, rel=1e-4)


def test_an_unknown_value_is_shown_as_such() -> None:
    """What is not known is two dashes, without a unit."""
    assert units.show(None, units.LENGTH, units.INCH) == "--"


def test_a_sentence_of_ours_in_other_units() -> None:
    """Each metric quantity of a sentence is put into inches and pounds; numbers without a unit stay."""
    said = "post 3 mm outward, to 131 mm: zone 2 of 5, 189 N at 26 rpm, 2.5 kg, 2.51 kPa, 3.86 N m, 460 mm/s"
    shown = (
        "post 0.12 in outward, to 5.16 in: zone 2 of 5, 42.5 lbf at 26 rpm, 5.5 lb, 0.36 psi, 2.85 lbf ft, "
        "460 mm/s"
    )
    assert units.reword(said, units.INCH) == shown
    assert units.reword(said, units.METRIC) == said
