"""What counts as a change that may have moved a tank's heat balance, and what is only its set-up."""

from datetime import date

from fleet.values.changes import find_changes
from fleet.values.register import Animals, Device, Duty, Load, Placement, RegisterRows, Room, Tank
from fleet.values.vocabulary import ChangeKind, DeviceKind, Lid, LoadKind, Role, TankKind, Where

SET_UP = date(2024, 1, 1)
LATER = date(2026, 5, 3)


def light(power_w, since, until=None, hours=10.0, name="light"):
    return Load("T1", name, LoadKind.LIGHT, power_w, since, hours_per_day=hours, until=until)


def kinds_and_days(rows):
    return [(change.kind, change.tank, change.on) for change in find_changes(rows)]


def test_what_a_tank_began_with_is_its_set_up():
    rows = RegisterRows(
        loads=(light(250, SET_UP), Load("T1", "return", LoadKind.SUBMERGED_PUMP, 60, SET_UP)),
        animals=(Animals("T1", "clownfish", SET_UP),),
        placements=(Placement("CH1", Where.IN_STAND, SET_UP, stand_of="T1"),),
        duties=(Duty("CH1", "T1", SET_UP),),
        rooms=(Room("R1", "S1", "Hall", 26.0, since=SET_UP),),
        tanks=(Tank("T1", "R1", "Tank", TankKind.REEF, 1, 1, 1, 25.0, since=SET_UP),),
        devices=(Device("CH1", DeviceKind.CHILLER, "Chiller", since=SET_UP),),
    )
    assert find_changes(rows) == ()


def test_a_stronger_light_is_a_change_told_in_watts_before_and_after():
    rows = RegisterRows(loads=(light(250, SET_UP, LATER), light(310, LATER)))
    (change,) = find_changes(rows)
    assert (change.kind, change.tank, change.on) == (ChangeKind.LIGHTS, "T1", LATER)
    assert (change.before, change.after) == ("lights 250 W, 10 h a day", "lights 310 W, 10 h a day")


def test_a_light_that_burns_longer_is_a_change_too():
    rows = RegisterRows(loads=(light(250, SET_UP, LATER, hours=8), light(250, LATER, hours=11)))
    (change,) = find_changes(rows)
    assert change.after == "lights 250 W, 11 h a day"


def test_a_light_swapped_for_one_of_the_same_power_is_no_change():
    rows = RegisterRows(loads=(light(250, SET_UP, LATER, name="old"), light(250, LATER, name="new")))
    assert find_changes(rows) == ()


def test_a_pump_taken_out_is_a_change_of_pumps_only():
    rows = RegisterRows(
        loads=(light(250, SET_UP), Load("T1", "return", LoadKind.SUBMERGED_PUMP, 60, SET_UP, until=LATER))
    )
    assert kinds_and_days(rows) == [(ChangeKind.PUMPS, "T1", LATER)]


def test_new_livestock_is_a_change():
    rows = RegisterRows(animals=(Animals("T1", "clownfish", SET_UP, count=2), Animals("T1", "tangs", LATER, count=4)))
    (change,) = find_changes(rows)
    assert change.kind is ChangeKind.ANIMALS
    assert change.after == "2 clownfish, 4 tangs"


def test_the_first_livestock_of_a_tank_that_ran_without_any_is_a_change():
    rows = RegisterRows(loads=(light(250, SET_UP),), animals=(Animals("T1", "clownfish", LATER, count=2),))
    (change,) = find_changes(rows)
    assert (change.kind, change.before, change.after) == (ChangeKind.ANIMALS, "none", "2 clownfish")


def test_the_first_device_on_a_tank_that_ran_without_any_is_a_change():
    rows = RegisterRows(loads=(light(250, SET_UP),), duties=(Duty("CH1", "T1", LATER),))
    assert kinds_and_days(rows) == [(ChangeKind.DUTY, "T1", LATER)]


def test_a_moved_chiller_is_a_change_for_every_tank_it_cools():
    rows = RegisterRows(
        placements=(
            Placement("CH1", Where.BESIDE_TANK, SET_UP, room="R1", until=LATER),
            Placement("CH1", Where.IN_STAND, LATER, stand_of="T1", clearance_m=0.1),
        ),
        duties=(Duty("CH1", "T1", SET_UP), Duty("CH1", "T2", SET_UP)),
    )
    changes = find_changes(rows)
    assert [(c.kind, c.subject, c.tank) for c in changes] == [
        (ChangeKind.DEVICE_MOVED, "CH1", "T1"),
        (ChangeKind.DEVICE_MOVED, "CH1", "T2"),
    ]
    assert changes[0].after == "in-stand of T1, 10 cm clear"


def test_a_chiller_made_standby_is_a_change_of_duty():
    rows = RegisterRows(
        duties=(
            Duty("CH1", "T1", SET_UP, role=Role.DUTY, until=LATER),
            Duty("CH1", "T1", LATER, role=Role.STANDBY),
        )
    )
    assert kinds_and_days(rows) == [(ChangeKind.DUTY, "T1", LATER)]


def test_a_warmer_room_is_a_change_for_every_tank_in_it():
    rows = RegisterRows(
        rooms=(Room("R1", "S1", "Hall", 25.0), Room("R1", "S1", "Hall", 28.0, since=LATER)),
        tanks=tuple(Tank(code, "R1", code, TankKind.REEF, 1, 1, 1, 25.0) for code in ("T1", "T2")),
    )
    assert kinds_and_days(rows) == [(ChangeKind.ROOM, "T1", LATER), (ChangeKind.ROOM, "T2", LATER)]


def test_an_opened_lid_is_a_change_but_a_new_name_is_none():
    tank = Tank("T1", "R1", "Tank", TankKind.REEF, 1, 1, 1, 25.0, lid=Lid.SEALED)
    opened = Tank("T1", "R1", "Tank", TankKind.REEF, 1, 1, 1, 25.0, lid=Lid.OPEN, since=LATER)
    renamed = Tank("T1", "R1", "Lagoon", TankKind.REEF, 1, 1, 1, 25.0, lid=Lid.SEALED, since=LATER)
    assert kinds_and_days(RegisterRows(tanks=(tank, opened))) == [(ChangeKind.TANK, "T1", LATER)]
    assert find_changes(RegisterRows(tanks=(tank, renamed))) == ()


def test_a_plate_read_again_is_a_change_for_the_tanks_it_cools():
    rows = RegisterRows(
        devices=(
            Device("CH1", DeviceKind.CHILLER, "Chiller", rated_cooling_w=500),
            Device("CH1", DeviceKind.CHILLER, "Chiller", rated_cooling_w=400, since=LATER),
        ),
        duties=(Duty("CH1", "T1", SET_UP),),
    )
    assert kinds_and_days(rows) == [(ChangeKind.PLATE, "T1", LATER)]


def test_a_changed_fact_is_told_in_words_and_with_its_unit() -> None:
    rooms = (
        Room("R1", "S1", "Hall", 23.8889, relative_humidity=0.5, air_conditioned=True),
        Room("R1", "S1", "Hall", 25.0, relative_humidity=None, air_conditioned=False, since=LATER),
    )
    tank = Tank("T1", "R1", "Tank", TankKind.REEF, 1, 1, 1, 25.0)
    (change,) = find_changes(RegisterRows(rooms=rooms, tanks=(tank,)))
    assert change.before == "air conditioned yes, hot day mean 23.89 °C, relative humidity 50 %"
    assert change.after == "air conditioned no, hot day mean 25 °C, relative humidity unknown"
