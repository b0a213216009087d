"""`fleet advise`: the keys that machines read, the sentences that people read, and what it says of the sample fleet."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from fleet import resources
from fleet.cli.main import app

from .conftest import TODAY, as_json

pytestmark = pytest.mark.slow

OPTION_KEYS = {
    "option", "holds_hot_day", "holds_ac_off", "margin", "yearly_kwh", "yearly_cost", "topoff_l_per_day",
    "noise_change_db", "note",
}  # fmt: skip


@pytest.mark.parametrize("tank", ["GUP", "LOB", "MUS", "REEF"])
def test_the_agreed_keys(stocked, tank):
    record = as_json(stocked("advise", tank, "--json"))
    assert record.keys() == {"tank", "options", "choice", "why"}
    assert record["tank"] == tank
    for option in record["options"]:
        assert option.keys() == OPTION_KEYS
        assert option["margin"] is None or option["margin"].keys() == {"low", "mid", "high"}
        assert option["yearly_kwh"] >= 0.0
        assert option["topoff_l_per_day"] >= 0.0
        if option["margin"] is None:
            assert option["note"]
    names = [option["option"] for option in record["options"]]
    assert len(names) == len(set(names))
    assert names[0] == "as-it-is"
    holding = {option["option"] for option in record["options"] if option["holds_hot_day"]}
    assert record["choice"] in holding if holding else record["choice"] is None
    assert record["why"].endswith(".")


def test_what_it_has_now_gets_the_margin_that_fleet_margin_tells(stocked):
    for tank in ("LOB", "REEF"):
        (row,) = as_json(stocked("margin", tank, "--scenario", "hot-day", "--json"))
        now = as_json(stocked("advise", tank, "--json"))["options"][0]
        assert now["margin"] == pytest.approx(row["margin"])


def test_money_is_kilowatt_hours_times_the_tariff_of_the_site(stocked):
    """0.22 EUR a kWh on the quay."""
    for option in as_json(stocked("advise", "MUS", "--json"))["options"]:
        assert option["yearly_cost"] == pytest.approx(0.22 * option["yearly_kwh"], abs=0.02)


def test_the_table_has_a_line_for_each_option_and_says_what_it_is_not(stocked):
    record = as_json(stocked("advise", "REEF", "--json"))
    text = stocked("advise", "REEF").stdout
    table = text.split("\n\n")[1].splitlines()
    assert len(table) == 1 + len(record["options"])
    assert "EUR" not in table[0]
    assert "USD" in table[0]
    assert "not engineering certificates" in text
    assert "Assumed:" in text


def test_mussels_at_14_c_get_no_fan_and_the_numbers_why(stocked):
    """Common practice: a cold tank needs a chiller; the air's wet bulb in the shed lies far over 14 °C."""
    record = as_json(stocked("advise", "MUS", "--json"))
    assert "No fan can hold 14.0 °C alone" in record["why"]
    assert "wet bulb" in record["why"]
    assert "would warm it" in record["why"]
    fan = next(option for option in record["options"] if option["option"] == "one-fan")
    assert fan["holds_hot_day"] is False
    assert "It would warm this water" in fan["note"]


def test_each_client_reads_the_units_of_the_house(stocked):
    assert " °F" in stocked("advise", "GUP").stdout
    assert "held at 14.0 °C" in stocked("advise", "MUS").stdout


def test_a_chiller_without_a_plate_is_flagged_in_a_sentence(fleet, pier):
    devices = pier / "devices.csv"
    devices.write_text(
        devices.read_text().replace("C-REEF,chiller,Loft chiller,1/10 HP,,,1/10 hp", "C-REEF,chiller,Loft chiller,,,,")
    )
    fleet("import", str(pier))
    record = as_json(fleet("advise", "REEF", "--json"))
    now = record["options"][0]
    assert now["holds_hot_day"] is None
    assert now["margin"] is None
    assert "No plate of C-REEF" in now["note"]
    assert "its plate says nothing usable" in record["why"]
    assert record["choice"] != "as-it-is"


def test_strict_says_by_its_exit_code_that_what_it_has_is_not_enough(stocked):
    holds = as_json(stocked("advise", "REEF", "--json"))["options"][0]["holds_hot_day"]
    stocked("advise", "REEF", "--strict", code=0 if holds else 1)


def test_an_unknown_tank_is_one_clear_line(stocked):
    said = stocked("advise", "REAF", code=2).stderr
    assert "REAF" in said
    assert "nearest is REEF" in said
    assert len(said.splitlines()) == 1


@pytest.fixture(scope="module")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database that holds the sample register."""
    path = tmp_path_factory.mktemp("sample") / "fleet.db"
    register = str(resources.sample_data() / "register")
    result = CliRunner().invoke(app, ["import", register, "--database", str(path)])
    assert result.exit_code == 0, result.stderr
    return path


def advised(sample: Path, tank: str):
    result = CliRunner().invoke(app, ["advise", tank, "--json", "--database", str(sample), "--today", TODAY])
    assert result.exit_code == 0, result.stderr
    return as_json(result)


@pytest.mark.slow
def test_on_the_sample_fleet_a_fan_will_do_for_some_and_for_others_no_fan_can(sample):
    for tank in ("OAKH-2", "OAKF-NANO", "WATT-COMM"):
        assert "A fan will do" in advised(sample, tank)["why"], tank
    for tank in ("THIS-AXO", "PIER-LOB", "QUIL-REEF", "DENT-REEF"):
        assert "No fan can hold" in advised(sample, tank)["why"], tank


def test_on_the_sample_fleet_a_colder_room_costs_many_times_the_chiller(sample):
    """Common practice: chilling one tank is cheaper than chilling its room."""
    record = advised(sample, "QUIL-REEF")
    kwh = {option["option"]: option["yearly_kwh"] for option in record["options"]}
    assert kwh["colder-room"] > 5.0 * kwh["as-it-is"]
    assert "Keeping the room at" in record["why"]


def test_on_the_sample_fleet_the_chiller_in_its_joiner_s_stand_is_told_to_come_out(sample):
    record = advised(sample, "DENT-REEF")
    assert record["options"][0]["holds_hot_day"] is False
    assert record["choice"].startswith("moved-")
    assert "switch itself off" in record["why"]


def test_on_the_sample_fleet_the_axolotls_need_a_real_chiller(sample):
    record = advised(sample, "THIS-AXO")
    assert record["choice"].startswith("chiller-")
    assert record["options"][0]["yearly_kwh"] > next(
        option["yearly_kwh"] for option in record["options"] if option["option"] == record["choice"]
    )
