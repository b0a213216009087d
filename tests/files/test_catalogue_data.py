"""The catalogue that ships with the program holds together."""

from __future__ import annotations

import pytest

from fleet.files.catalogue_files import LETHAL_MARGIN_K, read_catalogue
from fleet.values.catalogue import AnimalClass, Catalogue, TaskRule
from fleet.values.catalogue_names import NEEDS, REGISTER_CONDITIONS
from fleet.values.register import Device
from fleet.values.vocabulary import (
    ChangeKind,
    ContactRole,
    DerivedQuantity,
    DeviceKind,
    EquipmentKind,
    PerformedBy,
    Skill,
    Tolerance,
)

CATALOGUE = read_catalogue()

TASK_IDS = [
    "bleed-air-and-check-flow",
    "call-licensed-for-circuit",
    "check-after-outage",
    "check-circuit-for-leak",
    "check-circuit-load",
    "check-cold-side-damp",
    "check-cooler-fan",
    "check-cooler-power-supply",
    "check-evaporation-and-topoff",
    "check-exchanger-for-leak",
    "check-exhaust-path",
    "check-fan-mount",
    "check-flammable-space",
    "check-heater-cooler-gap",
    "check-level-and-noise",
    "check-reference-at-ice-point",
    "check-room-humidity",
    "check-salinity-with-fans",
    "check-stand-power-shelf",
    "check-sweat-and-drip-tray",
    "clean-and-seat-probe",
    "clean-condenser-fins",
    "clean-heatsink",
    "clean-intake-screen",
    "clean-level-sensor",
    "clean-prefilter",
    "clean-pump-impeller",
    "clean-stand-fan-filter",
    "clean-surface-fan",
    "clean-topoff-reservoir",
    "compare-probe-with-reference",
    "confirm-room-ac-service",
    "descale-exchanger-inside",
    "disinfect-visit-kit",
    "electrical-inspection",
    "exercise-standby-pump",
    "fill-topoff-reservoir",
    "flush-exchanger",
    "hand-over-holiday",
    "inspect-condenser-fan",
    "inspect-cords-and-drip-loops",
    "inspect-external-pump-seal",
    "inspect-heater",
    "inspect-hoses-and-unions",
    "inspect-outdoor-unit",
    "inspect-pipe-insulation",
    "inspect-portable-gear",
    "inspect-relays-and-outlets",
    "inspect-stand-for-damp",
    "investigate-out-of-band",
    "lay-up-after-season",
    "match-water-change-temperature",
    "measure-condenser-air-rise",
    "measure-cooling-output",
    "measure-pump-flow",
    "measure-rcd-trip-time",
    "prepare-for-cold-season",
    "prepare-for-hot-season",
    "press-gfci-after-storm",
    "press-gfci-test",
    "read-temperature-daily",
    "recheck-margin-before-season",
    "recommission-after-move",
    "rehearse-outage",
    "renew-thermal-paste",
    "replace-backup-battery",
    "replace-condenser-fan",
    "replace-fan",
    "replace-heater",
    "replace-soft-hose",
    "restock-van",
    "retire-refrigerant-unit",
    "retune-after-pump-change",
    "review-age-and-replace",
    "review-fan-adequacy",
    "review-heat-load",
    "review-intervals",
    "review-run-share",
    "rotate-spare-units",
    "run-generator",
    "run-idle-chiller",
    "save-controller-settings",
    "self-test-ups",
    "test-alarm-end-to-end",
    "test-battery-air-pump",
    "test-copper-after-metal-work",
    "test-high-low-cutoff",
]


@pytest.fixture(params=CATALOGUE.rules, ids=lambda rule: rule.id)
def rule(request: pytest.FixtureRequest) -> TaskRule:
    found: TaskRule = request.param
    return found


def test_every_task_that_history_may_name_is_there() -> None:
    assert [rule.id for rule in CATALOGUE.rules] == sorted(TASK_IDS)
    assert len(TASK_IDS) == len(set(TASK_IDS)) == 87


def test_reading_the_catalogue_twice_gives_the_same() -> None:
    assert read_catalogue() == CATALOGUE


def test_every_task_names_its_source_and_what_its_interval_rests_on(rule: TaskRule) -> None:
    assert rule.basis in {"published", "common practice", "from memory"}
    assert len(rule.source) >= len("Common practice.")
    if rule.basis == "common practice":
        assert "ommon practice" in rule.source or "roposal" in rule.source or "trade pages" in rule.source
    if rule.basis == "from memory":
        assert "rom memory" in rule.source
    if rule.basis == "published":
        assert not rule.source.lower().startswith(("common practice", "from memory"))


def test_every_task_can_be_done_by_somebody_with_what_is_printed(rule: TaskRule) -> None:
    assert 3 <= len(rule.steps) <= 9
    assert all(step[-1] in ".?" for step in rule.steps)
    assert rule.acceptance.endswith(".")
    assert rule.tools, "what to bring"
    for consumable in rule.consumables:
        assert consumable.quantity > 0


def test_cautions_prerequisites_and_pairs_exist(rule: TaskRule) -> None:
    assert set(rule.hazards) <= CATALOGUE.hazard_by_code.keys()
    assert {*rule.prerequisites, *rule.pairs} <= CATALOGUE.rule_by_id.keys() - {rule.id}
    for trigger in rule.events:
        assert set(trigger.tasks) <= CATALOGUE.rule_by_id.keys()


def test_what_law_or_life_safety_asks_for_is_never_put_further_apart(rule: TaskRule) -> None:
    if rule.tolerance is Tolerance.A0:
        assert all(factor.multiplier < 1 for factor in rule.factors)


def test_a_tasks_longest_interval_is_not_absurd(rule: TaskRule) -> None:
    if rule.interval is not None:
        shortest, usual, longest = (
            span.days for span in (rule.interval.minimum, rule.interval.typical, rule.interval.maximum)
        )
        assert 0.5 <= shortest <= usual <= longest <= 61 * 30.4375


def test_working_order_is_dry_before_wet_before_electrical_before_tests_of_protection() -> None:
    order = {rule.id: rule.order for rule in CATALOGUE.rules}
    dry = max(order[task] for task in ("clean-intake-screen", "clean-condenser-fins", "clean-heatsink"))
    wet = [order[task] for task in ("flush-exchanger", "descale-exchanger-inside", "clean-pump-impeller")]
    electrical = [order[task] for task in ("check-stand-power-shelf", "inspect-relays-and-outlets")]
    tests = [order[task] for task in ("test-high-low-cutoff", "test-alarm-end-to-end", "self-test-ups")]
    assert dry < min(wet) <= max(wet) < min(electrical) <= max(electrical) < min(tests)
    assert order["press-gfci-test"] == max(order.values()), "last before leaving, so that everything is seen to restart"


def test_refrigerant_work_is_licensed() -> None:
    for task in ("check-circuit-for-leak", "call-licensed-for-circuit", "retire-refrigerant-unit"):
        assert CATALOGUE.rule_by_id[task].skill is Skill.REFRIGERATION


def test_wiring_is_an_electricians() -> None:
    for task in ("replace-condenser-fan", "inspect-relays-and-outlets", "measure-rcd-trip-time"):
        assert CATALOGUE.rule_by_id[task].skill is Skill.ELECTRICIAN
    assert any("electrician" in step for step in CATALOGUE.rule_by_id["check-circuit-load"].steps)


def test_daily_and_weekly_looks_are_the_sites_own_and_licensed_work_is_never() -> None:
    for rule in CATALOGUE.rules:
        if rule.interval is not None and rule.interval.typical.days <= 14:
            assert rule.performed_by is PerformedBy.SITE_STAFF, rule.id
        if rule.skill in (Skill.REFRIGERATION, Skill.ELECTRICIAN):
            assert rule.performed_by is PerformedBy.VISITOR, rule.id


def test_no_visitor_is_sent_more_often_than_every_second_month_by_habit() -> None:
    for rule in CATALOGUE.rules:
        if rule.performed_by is PerformedBy.VISITOR and rule.interval is not None:
            assert rule.interval.typical.days >= 60, rule.id


def test_acid_work_carries_every_caution_about_acid() -> None:
    descaling = CATALOGUE.rule_by_id["descale-exchanger-inside"]
    assert {"H2", "H3", "H12"} <= set(descaling.hazards)
    text = " ".join(descaling.steps)
    for word in ("aluminium", "brass", "gas must get out", "Never bleach", "never near a tank or a garden", "Eyewash"):
        assert word in text
    assert "exchanger-takes-acid" in descaling.selector.needs


def test_a_switch_that_life_support_hangs_on_is_pressed_with_the_compressor_stopped_first() -> None:
    for task in ("press-gfci-test", "press-gfci-after-storm"):
        steps = CATALOGUE.rule_by_id[task].steps
        stop = next(place for place, step in enumerate(steps) if "stop the compressor first" in step)
        press = next(place for place, step in enumerate(steps) if "Press test" in step)
        assert stop < press
        assert "compressor delay included" in " ".join(steps[press:])


def test_the_cutoff_test_states_the_safe_state_of_cooler_and_heater() -> None:
    first = CATALOGUE.rule_by_id["test-high-low-cutoff"].steps[0]
    assert "heater off" in first
    assert "cooler" in first


def test_a_rehearsal_never_prints_hours() -> None:
    steps = " ".join(CATALOGUE.rule_by_id["rehearse-outage"].steps)
    assert "never the hours to print" in steps


def test_second_hand_law_says_check_current_law() -> None:
    for task in (
        "check-circuit-for-leak",
        "call-licensed-for-circuit",
        "measure-rcd-trip-time",
        "inspect-portable-gear",
    ):
        rule = CATALOGUE.rule_by_id[task]
        assert "heck current law" in f"{rule.acceptance} {rule.source}", task


def test_cautions_cover_what_can_hurt_and_end_with_who_comes_first() -> None:
    assert len(CATALOGUE.hazards) == 21
    titles = " ".join(hazard.title.lower() for hazard in CATALOGUE.hazards)
    for word in ("venomous", "palytoxin", "uv lamps", "broken glass", "working alone", "aerosol", "acid", "lifting"):
        assert word in titles
    assert CATALOGUE.hazard_closing.endswith("they come first.")
    assert "licensed practice" in CATALOGUE.hazard_closing
    used = {code for rule in CATALOGUE.rules for code in rule.hazards}
    assert used == CATALOGUE.hazard_by_code.keys(), "every caution is printed somewhere"


def _chiller(refrigerant: str | None) -> Device:
    return Device("CH-1", DeviceKind.CHILLER, "Chiller 1", refrigerant=refrigerant)


@pytest.mark.parametrize("refrigerant", ["R290", "R32", "R600a", None, "", "secret blend"])
def test_any_work_on_a_chiller_that_may_burn_carries_that_caution(refrigerant: str | None, rule: TaskRule) -> None:
    if DeviceKind.CHILLER in rule.selector.device_kinds:
        assert "H5" in {hazard.code for hazard in CATALOGUE.hazards_for(rule, _chiller(refrigerant))}


def test_a_refrigerant_that_does_not_burn_adds_no_caution() -> None:
    rule = CATALOGUE.rule_by_id["clean-intake-screen"]
    assert [hazard.code for hazard in CATALOGUE.hazards_for(rule, _chiller("R134a"))] == ["H1", "H8"]
    assert [hazard.code for hazard in CATALOGUE.hazards_for(rule)] == ["H1", "H8"]


def test_stop_rules_are_all_printed_somewhere_with_numbers_to_call() -> None:
    assert [row.number for row in CATALOGUE.stop_rules] == list(range(1, 25))
    for row in CATALOGUE.stop_rules:
        assert set(row.roles) <= {str(role) for role in ContactRole}
        assert set(row.hazards) <= CATALOGUE.hazard_by_code.keys()
        assert set(row.tasks) <= CATALOGUE.rule_by_id.keys()
        assert any(row in CATALOGUE.stop_rules_for([rule]) for rule in CATALOGUE.rules)


def test_the_stop_rules_of_acid_work_name_chlorine_and_the_rinse() -> None:
    numbers = {row.number for row in CATALOGUE.stop_rules_for([CATALOGUE.rule_by_id["descale-exchanger-inside"]])}
    assert {13, 14} <= numbers


def test_every_need_selects_for_some_task() -> None:
    assert {need for rule in CATALOGUE.rules for need in rule.selector.needs} == NEEDS.keys()


def test_equipment_that_protects_life_has_a_task() -> None:
    covered = {kind for rule in CATALOGUE.rules for kind in rule.selector.equipment_kinds}
    assert covered == set(EquipmentKind) - {EquipmentKind.SPARE_PART}


def test_each_word_of_room_and_tank_conditions_moves_some_interval() -> None:
    used = {factor.condition for rule in CATALOGUE.rules for factor in rule.factors}
    assert used >= REGISTER_CONDITIONS.keys()


def test_a_fan_takes_less_time_than_a_chiller_before_the_season() -> None:
    rule = CATALOGUE.rule_by_id["prepare-for-hot-season"]
    assert rule.minutes_for(DeviceKind.SURFACE_FAN) < rule.minutes_for(DeviceKind.CHILLER) == rule.minutes


@pytest.mark.parametrize("row", CATALOGUE.animal_classes, ids=lambda row: row.code)
def test_animal_limits_lie_in_order_and_well_inside_what_kills(row: AnimalClass) -> None:
    lows = [end for end in (row.act_low_c, row.watch_low_c, row.target_low_c) if end is not None]
    highs = [end for end in (row.target_high_c, row.watch_high_c, row.act_high_c) if end is not None]
    assert lows == sorted(lows)
    assert highs == sorted(highs)
    assert row.target_low_c < row.target_high_c
    assert row.watch_high_c is not None
    assert row.act_high_c is not None
    if row.lethal_high_c is not None:
        assert row.act_high_c <= row.lethal_high_c - LETHAL_MARGIN_K
    if row.lethal_low_c is not None and row.act_low_c is not None:
        assert row.act_low_c >= row.lethal_low_c + LETHAL_MARGIN_K
    assert len(row.evidence) > 20


@pytest.mark.parametrize(
    ("word", "code"),
    [
        ("reef", "reef-corals"),
        ("corals", "reef-corals"),
        ("community", "tropical-fresh"),
        ("cichlids", "warm-cichlids"),
        ("koi", "goldfish-koi"),
        ("goldfish", "goldfish-koi"),
        ("cold-stream", "trout"),
        ("trout-and-cold-stream", "trout"),
        ("octopus", "giant-octopus"),
        ("jellyfish", "moon-jelly"),
        ("zebrafish", "zebrafish"),
        ("marine", "tropical-marine"),
        ("axolotl", "axolotl"),
        ("lobsters", "lobster"),
    ],
)
def test_animal_classes_are_found_by_the_words_people_write(word: str, code: str) -> None:
    assert CATALOGUE.class_by_code[word].code == code


def test_an_empty_catalogue_knows_nothing() -> None:
    assert Catalogue((), (), (), ()).class_by_code == {}


def test_low_output_is_followed_up_from_the_cheapest_and_safest_to_acid() -> None:
    """Air side first, then flow, acid last and only once both are known to be clean (common practice)."""
    by_output = {
        rule.id: trigger
        for rule in CATALOGUE.rules
        if DeviceKind.CHILLER in rule.selector.device_kinds
        for trigger in rule.conditions
        if trigger.quantity is DerivedQuantity.OUTPUT_SHARE_PERCENT
    }
    assert by_output.keys() == {"clean-condenser-fins", "descale-exchanger-inside"}
    assert all((one.above, one.limit) == (False, 85) for one in by_output.values()), "85 % and more is fine"
    assert by_output["clean-condenser-fins"].trend
    assert set(by_output["descale-exchanger-inside"].soon_after) == {"clean-condenser-fins", "flush-exchanger"}


def test_only_changes_that_move_the_margin_are_looked_at_again_save_new_animals() -> None:
    """New animals call for a look whatever the heat balance says of them (common practice)."""
    events = {one.event: one for one in CATALOGUE.rule_by_id["review-heat-load"].events}
    changes = {name for name in events if name in set(ChangeKind)}
    assert changes == set(ChangeKind)
    assert {name for name in changes if not events[name].if_margin_moves} == {ChangeKind.ANIMALS}
    assert {(str(one.within), [str(span) for span in one.then_after] == ["30 days"]) for one in events.values()} == {
        ("7 days", True)
    }


def test_what_is_measured_for_the_season_is_measured_in_its_window() -> None:
    """Ten to three weeks before, like the making ready that rests on it; the capacity is looked at from eight to three
    weeks before (proposals)."""
    windows = {
        task: [(one.weeks_open, one.weeks_aim, one.weeks_last) for one in CATALOGUE.rule_by_id[task].seasons]
        for task in (
            "prepare-for-hot-season", "measure-cooling-output", "measure-condenser-air-rise", "test-high-low-cutoff",
            "recheck-margin-before-season",
        )
    }  # fmt: skip
    assert windows.pop("recheck-margin-before-season") == [(8, 6, 3)]
    assert set(map(tuple, windows.values())) == {((10, 8, 3),)}
