from dataclasses import replace
from datetime import date
from io import BytesIO

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sporebank.bank import queries, tables
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Shape, Stage
from sporebank.core.orders import Alternatives, Wish
from sporebank.core.records import Contact
from sporebank.formats.order_files import read_table
from sporebank.formats.order_form_xlsx import write_form
from sporebank.jobs import undo
from sporebank.jobs.asking import withdraw
from sporebank.jobs.order_import import Take, preview, take_in
from sporebank.jobs.order_paper import empty_form
from sporebank.jobs.sharing import save_contact
from tests.builders import Clock, new_bank, sound
from tests.exchange_builders import gave, ordered, round_of

DAY = date(2026, 2, 1)
HEAD = "Name;E-mail;Country;First choices;Alternatives\n"


def take(exchange_id, text, **more):
    return Take(exchange_id, read_table(text.encode()), DAY, **more)


def told(found):
    return [(one.row, one.column, one.sentence) for one in found.problems]


def orders_of(bank, exchange_id):
    placed = queries.placed(bank, exchange_id)
    return {one.contact.name: ([w.line for w in one.order.wishes], list(one.order.alternatives)) for one in placed}


def everything(bank):
    """Return all rows that an import can touch, and the deeds."""
    written = (tables.Contact, tables.Request, tables.Line, tables.Event)
    return [list(table.select().tuples().execute(bank.database)) for table in written]


def test_a_table_of_many_people_comes_in_by_one_deed_in_the_order_of_arrival(bank):
    save_contact(bank, Contact(0, "Marit Olden", country="NL", email="marit@example.org"))
    spring = round_of(bank, alternatives=Alternatives.RANKED)
    text = (
        "Name;E-mail;Country;Received;Choice 1;Choice 2;Alternatives;Helper;Note\n"
        "Ida Falk;ida@example.org;se;2026-02-03;5;3x2;9 7;yes;Thank you\n"
        "M. Olden;MARIT@example.org;;2026-01-20;1;;;;\n"
        ";;;;;;;;\n"
        "Jon Brandt;;DE;14 Jan 2026;12;11;;no;\n"
    )
    asked = take(spring, text)
    found = preview(bank, asked)
    assert told(found) == []
    assert (found.new_people, found.known_people, found.unchanged) == (2, 1, 0)
    assert take_in(bank, asked) == 3
    placed = queries.placed(bank, spring)
    assert [(one.contact.name, one.order.place) for one in placed] == [
        ("Jon Brandt", 1), ("Marit Olden", 2), ("Ida Falk", 3),
    ]  # fmt: skip
    ida = placed[2]
    assert ida.order.wishes == (Wish(5), Wish(3, 2))
    assert ida.order.alternatives == (9, 7)
    assert ida.order.helper
    assert ida.note == "Thank you"
    assert ida.contact == Contact(ida.contact.id, "Ida Falk", country="SE", email="ida@example.org")
    assert queries.events(bank)[0].title == "Take in 3 orders of Spring round 2026"
    undo.undo(bank)
    assert queries.placed(bank, spring) == []


def test_the_same_file_twice_changes_nothing(bank):
    """Neither a row nor a deed is written; common practice, no source."""
    spring = round_of(bank, alternatives=Alternatives.LIST, cap=3)
    text = HEAD + "Ida Falk;;SE;5 3 99 5;9\nJon Brandt;jon@example.org;DE;1 2 3 4;\n"
    assert take_in(bank, take(spring, text)) == 2
    before = everything(bank)
    again = preview(bank, take(spring, text))
    assert (again.unchanged, len(again.orders), again.problems) == (2, 0, ())
    assert take_in(bank, take(spring, text)) == 0
    assert everything(bank) == before


def test_other_wishes_of_somebody_who_has_an_order_are_told_and_not_written(bank):
    spring = round_of(bank, alternatives=Alternatives.LIST)
    ordered(bank, spring, "5 3", "9", who="Ida Falk")
    text = HEAD + "Ida Falk;;NL;3 7;9\nJon Brandt;;DE;1;\n"
    found = preview(bank, take(spring, text))
    before = "Ida Falk, NL has an order already, which stays as it is."
    assert told(found) == [
        (2, "", f"{before} This row asks for 7 as well and does not ask for 5."),
    ]
    other = preview(bank, take(spring, HEAD + "Ida Falk;;NL;3 5;9\n"))
    assert "another rank" in other.problems[0].sentence
    take_in(bank, take(spring, text))
    assert orders_of(bank, spring) == {"Ida Falk": ([5, 3], [9]), "Jon Brandt": ([1], [])}


def test_a_second_row_of_a_person_is_told(bank):
    spring = round_of(bank)
    text = HEAD + "Ida Falk;ida@example.org;SE;1;\nIda Falk;;SE;2;\n;IDA@example.org;;1;\n"
    found = preview(bank, take(spring, text))
    assert [one.checked.wishes for one in found.orders] == [(Wish(1),)]
    assert found.unchanged == 1
    assert "has an order in row 2" in found.problems[0].sentence


def test_a_withdrawn_order_stays_so_when_its_file_comes_again_and_another_may_come(bank):
    spring = round_of(bank)
    text = HEAD + "Ida Falk;ida@example.org;NL;5;\n"
    take_in(bank, take(spring, text))
    withdraw(bank, queries.placed(bank, spring)[0].request_id)
    found = preview(bank, take(spring, text))
    assert (found.orders, found.unchanged) == ((), 1)
    assert told(found) == [
        (2, "", "Ida Falk, NL, ida@example.org took this order back. Type it anew if it counts again.")
    ]
    assert take_in(bank, take(spring, text)) == 0
    other = HEAD + "Ida Falk;ida@example.org;NL;5 6;\n"
    assert take_in(bank, take(spring, other)) == 1
    again = preview(bank, take(spring, other))
    assert (again.unchanged, again.problems) == (1, ())


def test_a_line_that_is_gone_since_makes_no_other_order_of_a_file(bank):
    spring = round_of(bank)
    text = HEAD + "Ida Falk;ida@example.org;NL;5 6;\nJon Brandt;;DE;5;\n"
    take_in(bank, take(spring, text))
    withdraw(bank, queries.placed(bank, spring)[0].request_id)
    with bank.change("Leave none of 5") as tx:
        tx.update(tables.Offering, 5, packets=0)
    found = preview(bank, take(spring, text))
    assert (found.orders, found.unchanged) == ((), 2)


def form_of(bank, exchange_id, packets, person="Ida Falk"):
    """Return the sheet of an exchange as it comes back, with packets by number."""
    book = openpyxl.load_workbook(BytesIO(write_form(empty_form(bank, exchange_id))))
    sheet = book.active
    for row in sheet.iter_rows():
        if row[0].value == "Name":
            row[1].value = person
        elif row[0].value in packets:
            row[4].value = packets[row[0].value]
    out = BytesIO()
    book.save(out)
    return out.getvalue()


def test_the_filled_form_of_another_list_is_told_and_only_what_is_the_same_counts(bank):
    spring = round_of(bank, 12)
    autumn = round_of(bank, 3, name="Autumn round 2026")
    with bank.change("Another order of the list") as tx:
        first, second, _ = queries.listed(bank, autumn)
        tx.update(tables.Offering, first.id, number=99)
        tx.update(tables.Offering, second.id, number=1)
        tx.update(tables.Offering, first.id, number=2)
    table = read_table(form_of(bank, spring, {1: 1, 3: 2, 12: 1}))
    found = preview(bank, Take(autumn, table, DAY))
    assert [one.checked.wishes for one in found.orders] == [(Wish(3, 2),)]
    said = " ".join(one.sentence for one in found.problems)
    assert "This form is that of “Spring round 2026”, not of Autumn round 2026." in said
    assert "The number is 1, the name is that of 2. The wish is left out." in said
    assert "“Woodwardia unigemmata” beside 12 is no name of the list. The wish is left out." in said
    own = preview(bank, Take(spring, table, DAY))
    assert [one.checked.wishes for one in own.orders] == [(Wish(1), Wish(3, 2), Wish(12))]
    assert own.problems == ()


def test_a_bad_row_loses_no_good_one_and_is_told_with_its_row_and_column(bank):
    spring = round_of(bank, cap=2)
    rows = (
        ";;SE;1;",
        "Ida Falk;ida;SE;1;",
        "Jon Brandt;;Fernland;1;",
        "Pia Lund;;DK;981 1 1 twelve;3",
        "Ole Holm;;DK;981;",
        "Ada Brock;;United Kingdom;4 5 6;",
    )
    found = preview(bank, take(spring, HEAD + "\n".join(rows)))
    assert [(one.contact.name, one.contact.country) for one in found.orders] == [
        ("Jon Brandt", ""), ("Pia Lund", "DK"), ("Ada Brock", "GB"),
    ]  # fmt: skip
    assert told(found) == [
        (2, "A", "There is no name in this row, and no e-mail that is known."),
        (3, "B", "“ida” is no e-mail address. The row is left out."),
        (4, "C", "“Fernland” is no country that is known, so it is left open. Two letters would do."),
        (5, "D", "“twelve” cannot be read as a number, so it is left out."),
        (5, "D", "981 is not on the list, which ends at 12."),
        (5, "D", "1 is there more than once and counts once."),
        (5, "D", "Alternatives do not count here, so 3 is left out."),
        (6, "", "Nothing of the order of Ole Holm, DK can be kept."),
        (6, "D", "981 is not on the list, which ends at 12."),
        (7, "D", "3 packets are asked for, and there can be 2; 6 is left out."),
    ]
    assert take_in(bank, found.take) == 3
    assert {one.name for one in queries.contacts(bank)} == {"Jon Brandt", "Pia Lund", "Ada Brock"}


def test_days_are_read_as_their_column_writes_them_and_no_row_is_lost_by_them(bank):
    spring = round_of(bank)
    head = "Name;Received;First choices\n"
    rows = "Ida Falk;01/15/2026 10:22:01;1\nJon Brandt;01/06/2026;2\nPia Lund;soon;3\nOle Holm;;4\n"
    found = preview(bank, take(spring, head + rows))
    assert {one.contact.name: one.received_on for one in found.orders} == {
        "Ida Falk": date(2026, 1, 15), "Jon Brandt": date(2026, 1, 6), "Pia Lund": DAY, "Ole Holm": DAY,
    }  # fmt: skip
    assert told(found) == [(4, "B", "“soon” is no certain day, such as 2026-01-14; 1 Feb 2026 counts instead.")]
    open_order = preview(bank, take(spring, head + "Jon Brandt;01/06/2026;2\n"))
    assert [one.received_on for one in open_order.orders] == [DAY]
    assert "“01/06/2026” is no certain day" in open_order.problems[0].sentence


def test_an_order_of_a_standing_list_without_a_certain_day_comes_in_once(bank):
    standing = round_of(bank, shape=Shape.STANDING, closes=None)
    text = "Name;Received;First choices\nIda Falk;01/02/2026;1\n"
    assert take_in(bank, take(standing, text)) == 1
    later = Take(standing, read_table(text.encode()), date(2026, 2, 2))
    assert (preview(bank, later).orders, preview(bank, later).unchanged) == ((), 1)


def test_columns_and_people_spelt_otherwise_count_once_they_are_accepted(bank):
    save_contact(bank, Contact(0, "Ida Falk", country="SE", email="ida@example.org"))
    spring = round_of(bank)
    text = "Name;E-mail;Cuontry;First chioces\nIda Falk;falk@example.org;SE;5\n"
    found = preview(bank, take(spring, text))
    assert found.orders == ()
    keys = frozenset(one.suggestion.key for one in found.problems if one.suggestion)
    assert len(keys) >= 2
    found = preview(bank, take(spring, text, accepted=keys))
    keys |= {one.suggestion.key for one in found.problems if one.suggestion}
    accepted = take(spring, text, accepted=keys)
    assert preview(bank, accepted).known_people == 1
    assert take_in(bank, accepted) == 1
    assert len(queries.contacts(bank)) == 1


WISHES = "Person;Country;No.;Taxon;Packets;Alternative\n"


def test_a_row_a_wish_is_read_by_number_or_by_name(bank):
    spring = round_of(bank, alternatives=Alternatives.LIST)
    with bank.change("An old name") as tx:
        tx.update(tables.Taxon, 2, old_name="Phyllitis scolopendrium")
    rows = (
        "Ida Falk;SE;5;;2;",
        "Jon Brandt;DE;;osmunda regalis;;",
        "Ida Falk;SE;;Phyllitis scolopendrium;;",
        "Ida Falk;SE;;Polystichum setifrum;;",
        "Ida Falk;SE;9;Osmunda regalis;;yes",
        "Ida Falk;SE;9;Blechnum spicant;;",
        "Ida Falk;SE;7;Some fern;;8",
        "Ida Falk;SE;7 8;;;",
        "Ida Falk;SE;1;;many;",
        "Ida Falk;SE;;;;",
    )
    found = preview(bank, take(spring, WISHES + "\n".join(rows)))
    ida, jon = found.orders
    assert (ida.checked.wishes, ida.checked.alternatives) == ((Wish(5, 2), Wish(2), Wish(7)), (9, 8))
    assert jon.checked.wishes == (Wish(9),)
    assert [(row, column) for row, column, _ in told(found)] == [
        (4, "D"), (5, "D"), (7, "D"), (8, "D"), (9, "C"), (10, "E"), (11, "C"),
    ]  # fmt: skip
    (doubt,) = [one.suggestion for one in found.problems if one.suggestion]
    assert doubt.meant == "Polystichum setiferum"
    again = preview(bank, replace(found.take, accepted=frozenset({doubt.key})))
    assert Wish(11) in again.orders[0].checked.wishes


def test_a_row_a_wish_may_have_an_alternate_beside_it(bank):
    spring = round_of(bank, alternatives=Alternatives.PER_LINE)
    found = preview(bank, take(spring, WISHES + "Ida Falk;SE;5;;2;6\nIda Falk;SE;7;;;\n"))
    assert found.orders[0].checked.wishes == (Wish(5, 2, 6), Wish(7))
    take_in(bank, found.take)
    assert preview(bank, found.take).unchanged == 1
    assert queries.placed(bank, spring)[0].order.wishes == (Wish(5, 2, 6), Wish(7))


def test_donors_and_helpers_may_ask_for_more(bank):
    ida = save_contact(bank, Contact(0, "Ida Falk", country="SE"))
    spring = round_of(bank, cap=1, extra=1)
    gave(bank, spring, ida)
    text = "Name;Country;Numbers;Helper\nIda Falk;SE;1 2 3;\nJon Brandt;DE;1 2 3;x\nPia Lund;DK;1 2 3;perhaps\n"
    found = preview(bank, take(spring, text))
    assert [one.checked.packets for one in found.orders] == [2, 2, 1]
    assert any("neither yes nor no" in one.sentence for one in found.problems)


def test_a_standing_list_takes_more_orders_of_a_person_but_none_twice(bank):
    standing = round_of(bank, shape=Shape.STANDING, closes=None, cap=4)
    text = HEAD + "Ida Falk;;SE;1 2;\nIda Falk;;SE;3 4 5;\nIda Falk;;SE;1 2;\n"
    found = preview(bank, take(standing, text))
    assert [[w.line for w in one.checked.wishes] for one in found.orders] == [[1, 2], [3, 4]]
    assert found.unchanged == 1
    assert take_in(bank, found.take) == 2
    before = everything(bank)
    assert preview(bank, found.take).unchanged == 3
    assert take_in(bank, found.take) == 0
    assert everything(bank) == before


def test_on_a_standing_list_the_day_tells_one_order_from_the_next(bank):
    standing = round_of(bank, shape=Shape.STANDING, closes=None)
    text = "Name;Numbers;Date\nIda Falk;1 2;2026-01-10\nIda Falk;1 2;2026-02-10\n"
    assert take_in(bank, take(standing, text)) == 2
    assert preview(bank, take(standing, text)).unchanged == 2


def test_what_came_too_late_is_left_out_and_what_has_no_certain_day_came_with_the_file(bank, clock):
    spring = round_of(bank)
    clock.day = date(2026, 4, 5)
    rows = ("Ida Falk;1;2026-04-01", "Jon Brandt;1;2026", "Pia Lund;1;03/04/2026", "Ole Holm;1;2026-03-31T23:10")
    text = "Name;Numbers;Date\n" + "\n".join(rows)
    found = preview(bank, take(spring, text))
    assert [(one.contact.name, one.received_on) for one in found.orders] == [
        ("Jon Brandt", DAY), ("Pia Lund", DAY), ("Ole Holm", date(2026, 3, 31)),
    ]  # fmt: skip
    assert "late" in told(found)[0][2]
    assert all("no certain day" in sentence for _, _, sentence in told(found)[1:])
    assert len(told(found)) == 3
    assert len(preview(bank, replace(found.take, late=True)).orders) == 4


def test_a_table_that_does_not_say_who_or_what_is_refused(bank):
    spring = round_of(bank)
    for text, says in (
        ("Country;Numbers\nNL;1\n", "who asks"),
        ("Name;Country\nIda;NL\n", "what is asked for"),
        ("Ida;NL\n", "No row names"),
    ):
        with pytest.raises(Refusal, match=says):
            preview(bank, take(spring, text))
    closed = round_of(bank, stage=Stage.CLOSED, name="Closed")
    with pytest.raises(Refusal, match="is closed"):
        preview(bank, take(closed, HEAD))


def test_rows_that_could_not_be_read_are_told(bank):
    spring = round_of(bank)
    found = preview(bank, take(spring, HEAD + "x" * 200_000 + ";\nIda Falk;;SE;1;\n"))
    assert [one.row for one in found.problems] == [2]
    assert len(found.orders) == 1


_names = st.sampled_from(["Ida Falk", "ida  falk", "Jon Brandt", "", "Äda Bröck", "x" * 300])
_emails = st.sampled_from(["", "", "ida@example.org", "IDA@example.org ", "jon@example.org", "none"])
_countries = st.sampled_from(["", "NL", "nl", "SE", "Sweden"])
_numbers = st.lists(st.integers(1, 14), max_size=5).map(lambda some: " ".join(map(str, some)))
_rows = st.lists(st.tuples(_names, _emails, _countries, _numbers, _numbers), max_size=8)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    rows=_rows,
    alternatives=st.sampled_from(Alternatives),
    shape=st.sampled_from(Shape),
    cap=st.none() | st.integers(1, 6),
)
def test_whatever_is_taken_in_twice_changes_nothing(rows, alternatives, shape, cap, tmp_path_factory):
    bank = new_bank(tmp_path_factory.mktemp("bank"), clock=Clock())
    try:
        exchange_id = round_of(bank, shape=shape, alternatives=alternatives, cap=cap, limited=(3, 4), limited_cap=1)
        asked = take(exchange_id, HEAD + "".join(";".join(row) + "\n" for row in rows))
        brought = preview(bank, asked)
        assert take_in(bank, asked) == len(brought.orders)
        before = everything(bank)
        again = preview(bank, asked)
        assert again.orders == ()
        assert again.unchanged >= len(brought.orders)
        assert take_in(bank, asked) == 0
        assert everything(bank) == before
        sound(bank)
    finally:
        bank.close()
