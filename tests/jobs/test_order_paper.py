import pytest

from sporebank.bank import queries, tables
from sporebank.core import names
from sporebank.core.errors import Refusal
from sporebank.core.orders import Alternatives, Wish
from sporebank.formats.order_files import read_table
from sporebank.formats.order_form_xlsx import RANK, WANTED
from sporebank.jobs.order_import import Take, preview, take_in
from sporebank.jobs.order_paper import empty_form
from tests.exchange_builders import CLOSES, OPENS, round_of
from tests.formats.test_order_form_xlsx import filled
from tests.jobs.test_order_import import DAY


def test_the_form_of_an_exchange_has_its_list_its_days_and_its_rules(bank):
    spring = round_of(bank, 12, cap=20, alternatives=Alternatives.RANKED, limited=(3,))
    form = empty_form(bank, spring)
    assert (form.bank, form.exchange, form.opens, form.closes) == (bank.name, "Spring round 2026", OPENS, CLOSES)
    assert (form.boxes, form.alternative_boxes) == (20, 15)
    assert [line.number for line in form.lines] == list(range(1, 13))
    assert names.text(form.lines[8].name) == "Osmunda regalis"
    assert [line.number for line in form.lines if line.limited] == [3]


def test_a_line_without_packets_is_not_on_the_form(bank):
    spring = round_of(bank, 3)
    with bank.change("Leave none of the second") as tx:
        tx.update(tables.Offering, 2, packets=0)
    assert [line.number for line in empty_form(bank, spring).lines] == [1, 3]


def test_a_list_without_numbers_has_no_form(bank):
    spring = round_of(bank, 1)
    with bank.change("Take the number away") as tx:
        tx.update(tables.Offering, 1, number=None)
    with pytest.raises(Refusal, match="Number the list first"):
        empty_form(bank, spring)


def test_a_form_goes_out_comes_back_and_is_taken_in_once(bank):
    spring = round_of(bank, 12, cap=20)
    data = filled(empty_form(bank, spring), {"Name": "Ida Falk"}, {5: {WANTED: 2, RANK: 2}, 9: {WANTED: 1, RANK: 1}})
    take = Take(spring, read_table(data), DAY)
    assert preview(bank, take).problems == ()
    assert take_in(bank, take) == 1
    assert queries.placed(bank, spring)[0].order.wishes == (Wish(9), Wish(5, 2))
    assert take_in(bank, take) == 0
