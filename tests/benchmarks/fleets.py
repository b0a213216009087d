"""A register of any size for measuring: rooms of ten tanks with what usually stands in and about them."""

from __future__ import annotations

import random
from datetime import date, time
from typing import Any

from fleet.values.fleet import Fleet, snapshot
from fleet.values.register import Client, Device, Duty, Load, Placement, RegisterRows, Room, Site, Tank
from fleet.values.vocabulary import DeviceKind, Lid, LoadKind, Mounting, Stand, TankKind, Wall, Where

DAY = date(2026, 5, 4)
TANKS_IN_A_ROOM, ROOMS_AT_A_SITE = 10, 5


def made_up(tanks: int, seed: int = 1) -> Fleet:
    """Seven in ten tanks with a chiller (beside it, in a closed stand, outdoors, one for two), two with a fan in the
    lid, one without cooling; a third with sumps; lamps that switch on any minute."""
    dice = random.Random(seed)
    sites, rooms, rows = [], [], {name: [] for name in ("tanks", "loads", "devices", "placements", "duties")}
    for i in range(tanks):
        r, s = i // TANKS_IN_A_ROOM, i // (TANKS_IN_A_ROOM * ROOMS_AT_A_SITE)
        if i % (TANKS_IN_A_ROOM * ROOMS_AT_A_SITE) == 0:
            sites.append(Site(f"s{s}", "client", f"Site {s}", "Europe/London", elevation_m=dice.uniform(0, 400)))
        if i % TANKS_IN_A_ROOM == 0:
            rooms.append(
                Room(
                    f"r{r}",
                    f"s{s}",
                    f"Room {r}",
                    hot_day_mean_c=dice.uniform(22.5, 27.0),
                    hot_day_rise_k=dice.uniform(0.5, 3.0),
                    relative_humidity=dice.uniform(0.4, 0.65),
                    air_conditioned=True,
                    volume_m3=300.0,
                    ua_w_per_k=400.0,
                )
            )
        _one(dice, i, f"r{r}", rows)
    return snapshot(
        RegisterRows(
            clients=(Client("client", "The Tidewater Rooms"),),
            sites=tuple(sites),
            rooms=tuple(rooms),
            **{name: tuple(values) for name, values in rows.items()},
        ),
        DAY,
    )


def _one(dice: random.Random, i: int, room: str, rows: dict[str, list[Any]]) -> None:
    code = f"t{i}"
    length = dice.uniform(0.6, 2.4)
    width, height = length * dice.uniform(0.35, 0.5), length * dice.uniform(0.35, 0.5)
    litres = 1000.0 * 0.88 * length * width * height
    cooling = dice.random()
    has_fan = 0.7 <= cooling < 0.9
    closed, sump = dice.random() < 0.4, dice.random() < 0.35
    rows["tanks"].append(
        Tank(
            code,
            room,
            f"Tank {i}",
            TankKind.REEF,
            length_m=length,
            width_m=width,
            height_m=height,
            target_c=dice.uniform(24.0, 26.0),
            wall=Wall.GLASS,
            wall_thickness_m=0.012,
            net_volume_m3=litres / 1000.0,
            salinity_g_per_kg=35.0,
            lid=Lid.LOOSE if has_fan else dice.choice((Lid.OPEN, Lid.LOOSE, Lid.SEALED)),
            stand=Stand.CLOSED if closed else Stand.OPEN,
            stand_vent_flow_m3_h=dice.uniform(60.0, 150.0) if closed else None,
            sump_area_m2=0.3 * length * width if sump else None,
            sump_volume_m3=0.06 * length * width if sump else None,
            watch_high_c=28.0,
            act_high_c=29.5,
        )
    )
    pumps, lamp = litres * dice.uniform(0.1, 0.3), litres * dice.uniform(0.3, 0.8)
    rows["loads"] += [
        Load(code, "pumps", LoadKind.SUBMERGED_PUMP, pumps, date.min),
        Load(
            code,
            "light",
            LoadKind.LIGHT,
            lamp,
            date.min,
            hours_per_day=dice.uniform(7.0, 11.0),
            on_from=time(dice.randrange(7, 12), dice.randrange(60)),
            mounting=dice.choice((Mounting.RIM, Mounting.SEALED_HOOD, Mounting.SUSPENDED)),
        ),
    ]
    if closed:
        rows["loads"].append(Load(code, "return", LoadKind.EXTERNAL_PUMP, litres * 0.08, date.min))
    need = pumps + 0.5 * lamp
    if cooling < 0.65:
        share = i % TANKS_IN_A_ROOM != 0 and dice.random() < 0.1 and rows["devices"]
        where = dice.choice((Where.BESIDE_TANK, Where.BESIDE_TANK, Where.IN_STAND, Where.OUTDOORS))
        if where is Where.IN_STAND and not closed:
            where = Where.BESIDE_TANK
        device = f"d{i}"
        if share and rows["devices"][-1].kind is DeviceKind.CHILLER and rows["devices"][-1].code == f"d{i - 1}":
            device = f"d{i - 1}"
        else:
            rows["devices"].append(
                Device(
                    device,
                    DeviceKind.CHILLER,
                    "Chiller",
                    rated_cooling_w=need * dice.uniform(1.5, 3.5),
                    rated_power_w=need * dice.uniform(0.5, 1.0),
                    installed=DAY,
                )
            )
            stand_of = code if where is Where.IN_STAND else None
            rows["placements"].append(
                Placement(device, where, date.min, room=room, stand_of=stand_of, clearance_m=dice.uniform(0.1, 0.5))
            )
        rows["duties"].append(Duty(device, code, date.min))
    elif cooling < 0.9:
        kind = DeviceKind.SURFACE_FAN if has_fan else DeviceKind.THERMOELECTRIC
        rows["devices"].append(
            Device(
                f"d{i}",
                kind,
                "Cooler",
                rated_cooling_w=None if has_fan else need,
                rated_power_w=20.0 if has_fan else 2.0 * need,
                air_flow_m3_h=dice.uniform(60.0, 200.0) if has_fan else None,
                fan_diameter_m=0.12 if has_fan else None,
                installed=DAY,
            )
        )
        rows["placements"].append(Placement(f"d{i}", Where.BESIDE_TANK, date.min, room=room, clearance_m=0.5))
        rows["duties"].append(Duty(f"d{i}", code, date.min))
