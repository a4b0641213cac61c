"""Settings are kept when they make sense, refused beside their field when not, and undone by name."""

from dataclasses import replace

import pytest

from sporebank.bank.opening import open_bank
from sporebank.core.errors import Refusal
from sporebank.core.settings import Settings
from sporebank.jobs import undo
from sporebank.jobs.settings import change_settings
from tests.builders import new_bank


def test_settings_outlive_the_window(tmp_path):
    bank = new_bank(tmp_path)
    wanted = Settings(keeper="Odile Marchbank", cull_line=0.1, packet_ug=5_000, appearance="dark", backups=30)
    change_settings(bank, wanted)
    assert bank.settings == wanted
    bank.close()
    again = open_bank(bank.path)
    assert again.settings == wanted
    again.close()


def test_who_is_set_as_keeper_stands_beside_later_deeds(bank):
    change_settings(bank, Settings(keeper="Odile Marchbank"))
    change_settings(bank, Settings(keeper="Odile Marchbank", backups=9))
    found = bank.database.execute_sql("SELECT by FROM event ORDER BY id").fetchall()
    assert found == [("",), ("Odile Marchbank",)]


def test_settings_are_taken_back_and_done_again(bank):
    change_settings(bank, Settings(cull_line=0.3))
    assert undo.undo(bank) == "Change settings"
    assert bank.settings == Settings()
    undo.redo(bank)
    assert bank.settings.cull_line == 0.3


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("cull_line", 0.0),
        ("alive_line", 0.2),
        ("cull_chance", 0.4),
        ("test_age_days", 5),
        ("gift_line", 1.0),
        ("packet_ug", 1),
        ("reserve_ug", -1),
        ("pot_cm2", 0.0),
        ("appearance", "purple"),
        ("backups", 0),
    ],
)
def test_a_value_outside_its_limits_is_refused_beside_its_field(bank, field, value):
    with pytest.raises(Refusal) as caught:
        change_settings(bank, replace(Settings(), **{field: value}))
    assert caught.value.field == field
    assert bank.settings == Settings()
