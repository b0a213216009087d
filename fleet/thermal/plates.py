"""What a printed rating means in watts."""

from __future__ import annotations

from fleet.errors import OutOfRange
from fleet.thermal.properties import volumetric_heat_capacity
from fleet.thermal.ranges import Range, positive
from fleet.values.spread import Spread

BTU_PER_HOUR_W = 0.2930711
"""NIST SP 811."""

WATTS, BTU_PER_H, HORSEPOWER = "watts", "btu_per_h", "horsepower"
VOLUME_PULL_DOWN, VOLUME = "volume_pull_down", "volume"
PLATE_FACTORS = {
    WATTS: (0.90, 1.00, 1.05),
    BTU_PER_H: (0.85 * BTU_PER_HOUR_W, 0.95 * BTU_PER_HOUR_W, 1.05 * BTU_PER_HOUR_W),
    HORSEPOWER: (2.0, 3.0, 4.2),
}
"""Low, mid and high watts of cooling per printed unit; a horsepower is that of the motor, in watts: from memory."""
HEAT_CAPACITY_20_C: float = volumetric_heat_capacity(20.0)
PULL_DOWN_K = Range("pull-down", 0.1, 40.0, "K")


def holding_heat(volume_m3: float, difference_k: float, kit_w_per_l: float) -> float:
    """Heat that keeps a tank this far below its room. [W]

    A box of twice its width in length: 7 W/(m2 K) through the sides, 2 through the bottom, 10 at the surface, plus
    electrical kit by the litre. Derived here.
    """
    side_m = (volume_m3 / 2.0) ** (1.0 / 3.0)
    conductance = (7.0 * 6.0 + 2.0 * 2.0 + 10.0 * 2.0) * side_m**2
    return difference_k * conductance + kit_w_per_l * 1000.0 * volume_m3


def pull_down_heat(volume_m3: float, difference_k: float, hours: float) -> float:
    """Heat that chills a volume of water by a difference in a number of hours. [W]"""
    return HEAT_CAPACITY_20_C * volume_m3 * difference_k / (hours * 3600.0)


def plate_to_watts(kind: str, value: float, pull_down_k: float | None = None) -> Spread:
    """Cooling that a printed rating stands for at 25 °C water and 30 °C intake air: low, mid, high. [W]

    kind and value: "watts" [W of cooling], "btu_per_h" [Btu/h], "horsepower" [W of motor], "volume_pull_down" [m3,
    with pull_down_k in K, 0.1 to 40], "volume" [m3]; value above 0. Raises OutOfRange beyond, ValueError for another
    kind. Plan with the low end: "N litres by D degrees" may mean held below the room or chilled in an unstated time, a
    factor of three; a bare volume says less still.
    """
    positive("printed rating").check(value)
    if kind in PLATE_FACTORS:
        low, mid, high = PLATE_FACTORS[kind]
        return Spread(low * value, mid * value, high * value)
    if kind == VOLUME_PULL_DOWN:
        if pull_down_k is None:
            raise OutOfRange(PULL_DOWN_K.quantity, float("nan"), PULL_DOWN_K.low, PULL_DOWN_K.high, "K")
        PULL_DOWN_K.check(pull_down_k)
        return Spread(
            holding_heat(value, pull_down_k, 0.0),
            max(pull_down_heat(value, pull_down_k, 24.0), holding_heat(value, pull_down_k, 0.35)),
            max(pull_down_heat(value, pull_down_k, 8.0), holding_heat(value, pull_down_k, 0.8)),
        )
    if kind == VOLUME:
        return Spread(
            holding_heat(value, 5.0 / 1.8, 0.0),
            holding_heat(value, 7.0 / 1.8, 0.2),
            holding_heat(value, 9.0 / 1.8, 0.35),
        )
    kinds = ", ".join((*PLATE_FACTORS, VOLUME_PULL_DOWN, VOLUME))
    raise ValueError(f"kind of plate is {kind!r}: expected one of {kinds}")
