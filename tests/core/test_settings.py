from dataclasses import fields, replace

import pytest

from sporebank.core.errors import Refusal
from sporebank.core.settings import Settings, changed_values, describe, from_values, problems, shown


def test_the_defaults_have_no_problems():
    assert problems(Settings()) == ()


def test_every_setting_says_what_it_is():
    for one in fields(Settings):
        how = describe(one.name)
        assert how.title
        assert how.help.endswith(".")
    with pytest.raises(KeyError):
        describe("colour of the kettle")


@pytest.mark.parametrize("one", [one.name for one in fields(Settings)])
def test_values_outside_their_limits_are_told_with_the_limit(one):
    how = describe(one)
    wrong = [
        value for value in ((how.low or 0) - 1 if how.low is not None else None, how.high and how.high * 2) if value
    ]
    for value in wrong:
        assert one in dict(problems(replace(Settings(), **{one: value})))
    if how.choices:
        assert problems(replace(Settings(), **{one: "plaid"}))


def test_the_two_lines_keep_their_order():
    assert dict(problems(replace(Settings(), cull_line=0.6)))["alive_line"]


def test_only_what_differs_is_kept_and_comes_back():
    changed = replace(Settings(), cull_line=0.3, keeper="Odile Marchbank")
    assert changed_values(changed) == {"cull_line": 0.3, "keeper": "Odile Marchbank"}
    assert from_values(changed_values(changed)) == changed
    assert from_values({"from_a_newer_program": 1}) == Settings()


def test_a_value_of_the_wrong_kind_is_refused():
    with pytest.raises(Refusal, match="Line"):
        from_values({"cull_line": "much"})


def test_numbers_are_shown_as_people_read_them():
    assert shown(describe("cull_line"), 0.2) == "20 %"
    assert shown(describe("packet_ug"), 2500) == "2.5 mg"
    assert shown(describe("backups"), 7) == "7"
