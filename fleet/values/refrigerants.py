"""What a recorded refrigerant means for safety and for leak-check law: whether it burns, how far it warms the climate.

Safety classes: ISO 817 and ASHRAE 34 designations. Warming potentials: 100 years, IPCC AR4, as in annex I of
Regulation (EU) 517/2014 (replaced by 2024/573: check current law). Both tables were written from memory; the tests
hold the blends against their compositions and the classes against published lists.
"""

from __future__ import annotations

import re

from fleet.values.register import Device

SAFETY_CLASS: dict[str, str] = {
    "R12": "A1", "R22": "A1", "R134a": "A1", "R404A": "A1", "R407C": "A1", "R410A": "A1", "R422D": "A1",
    "R448A": "A1", "R449A": "A1", "R450A": "A1", "R452A": "A1", "R507A": "A1", "R513A": "A1", "R744": "A1",
    "R32": "A2L", "R1234yf": "A2L", "R1234ze": "A2L", "R454A": "A2L", "R454B": "A2L", "R454C": "A2L", "R455A": "A2L",
    "R152a": "A2", "R170": "A3", "R290": "A3", "R600": "A3", "R600a": "A3", "R1270": "A3", "R717": "B2L",
}  # fmt: skip
"""Safety class by designation: A or B for lower or higher toxicity, 1 does not spread a flame, 2L, 2, 3 burn."""

WARMING_POTENTIAL: dict[str, float] = {
    "R134a": 1430, "R404A": 3922, "R407C": 1774, "R410A": 2088, "R422D": 2729, "R448A": 1387, "R449A": 1397,
    "R450A": 605, "R452A": 2140, "R507A": 3985, "R513A": 631, "R32": 675, "R152a": 124, "R454A": 239, "R454B": 466,
    "R454C": 148, "R455A": 148,
}  # fmt: skip
"""kg CO2 equivalent per kg, of refrigerants with fluorinated gases that leak-check law counts."""

NOT_COUNTED = frozenset({"R744", "R170", "R290", "R600", "R600a", "R1270", "R717", "R1234yf", "R1234ze"})
"""Refrigerants without the gases that leak-check law counts."""

STRONGEST_BLEND = 3985.0
"""Warming potential taken for a refrigerant that is not in the table: R507A, the strongest in small cooling units."""

REGULATED_T = 5.0
"""Charge from which the EU asks for regular leak checks. [t CO2 equivalent]"""

REGULATED_G = 6804.0
"""Charge from which the US leak rules speak: 15 lb (40 CFR 84.106). [g]"""

_BY_FOLDED_NAME = {name.lower(): name for name in SAFETY_CLASS}


def designations(refrigerant: str | None) -> tuple[str, ...]:
    """Every designation in a recorded text ("R-134A", "HC 290", "R134a, now R290") that the table knows."""
    numbers = re.findall(r"(?:\bR|HFC|HFO|HC|\b)[\s-]*(\d{2,4}[a-z]{0,2})\b", refrigerant or "", flags=re.IGNORECASE)
    known = (_BY_FOLDED_NAME.get(f"r{number.lower()}") for number in numbers)
    return tuple(name for name in known if name is not None)


def designation(refrigerant: str | None) -> str | None:
    """The first designation in a recorded text, None where none is known."""
    return next(iter(designations(refrigerant)), None)


def flammable_or_unknown(device: Device) -> bool:
    """Whether a chiller's refrigerant may burn. One that is not recorded, or not in the table, counts as flammable; of
    several in one text any counts."""
    names = designations(device.refrigerant)
    return not names or any(not SAFETY_CLASS[name].endswith("1") for name in names)


def co2_equivalent_t(device: Device) -> float | None:
    """Charge as tonnes of CO2 equivalent. None where the charge is not recorded; the strongest blend where only the
    refrigerant is not; 0 for refrigerants that leak-check law does not count."""
    if device.charge_g is None:
        return None
    name = designation(device.refrigerant)
    if name in NOT_COUNTED:
        return 0.0
    return device.charge_g / 1e6 * WARMING_POTENTIAL.get(name or "", STRONGEST_BLEND)


def may_be_regulated(device: Device) -> bool:
    """Whether the recorded charge reaches a threshold of leak-check law. False where no charge is recorded: units for
    tanks mostly lie below it."""
    tonnes = co2_equivalent_t(device)
    if not tonnes or device.charge_g is None:
        return False
    return tonnes >= REGULATED_T or device.charge_g >= REGULATED_G
