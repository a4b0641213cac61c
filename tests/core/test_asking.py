from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core import names
from sporebank.core.asking import Asked, Asker, Fault, Severity, check, numbered, read, reply, written
from sporebank.core.exchange import Exchange, Listed, Shape, Stage, Terms
from sporebank.core.orders import Alternatives, Rules, Wish
from sporebank.core.records import SporeClass, Taxon

TAXON = Taxon(1, names.parse("Dryopteris affinis"), "", SporeClass.NON_GREEN, verified=True)
DAY = date(2027, 2, 1)


def listed(count=412, limited=(), sold_out=()):
    return [
        Listed(number, number, TAXON, 2000, 5, 0 if number in sold_out else 5, number in limited, "")
        for number in range(1, count + 1)
    ]


def exchange(shape=Shape.ROUND, closes=date(2027, 3, 31), **rules):
    terms = Terms(Rules(**rules))
    return Exchange(1, "Spring round 2027", shape, Stage.OPEN, date(2027, 1, 1), closes, date(2027, 4, 15), terms)


def checked(text, others="", *, lines=None, asker=Asker(), **how):  # noqa: B008 - it is frozen
    return check(read(text, others), exchange(**how), numbered(listed() if lines is None else lines), asker)


def faults(found):
    return [problem.fault for problem in found.problems]


@pytest.mark.parametrize(
    ("text", "wishes"),
    [
        ("1 2,3;4\n5", [1, 2, 3, 4, 5]),
        ("No. 12, no 13, #14, №15, Nr.16", [12, 13, 14, 15, 16]),
        ("007 0412.", [7, 412]),
        ("7x2 8 x 3, 9×2", [Wish(7, 2), Wish(8, 3), Wish(9, 2)]),
        ("188/201 189 (202)", [Wish(188, 1, 201), Wish(189, 1, 202)]),
        ("190x2/203 191 / No. 204", [Wish(190, 2, 203), Wish(191, 1, 204)]),
        ("", []),
        (" ,; \n", []),
    ],
)  # fmt: skip
def test_numbers_are_read_however_they_are_typed(text, wishes):
    assert read(text) == Asked(tuple(Wish(one) if isinstance(one, int) else one for one in wishes))


@pytest.mark.parametrize("word", ["1-20", "12.5", "x2", "12x", "7x0", "twelve", "(12)", "12/", "-3", "9" * 12, "1.12"])
def test_what_cannot_be_read_is_told_by_its_word(word):
    assert read(f"1; {word}; 2") == Asked((Wish(1), Wish(2)), (), (word,))


def test_a_word_without_end_is_quoted_in_short():
    (problem,) = checked("x" * 5000).problems
    assert len(problem.sentence) < 100


@given(
    st.lists(st.builds(Wish, st.integers(0, 999_999_999), st.integers(1, 999), st.none() | st.integers(0, 999_999_999)))
)
def test_what_is_written_is_read_the_same(wishes):
    assert read(written(wishes)) == Asked(tuple(wishes))


@given(st.text(), st.text())
def test_any_text_is_read_or_told(text, others):
    asked = read(text, others)
    kept = check(asked, exchange(alternatives=Alternatives.LIST), numbered(listed(9)), Asker())
    assert len([one for one in kept.problems if one.fault is Fault.UNREAD]) == len(asked.unread)


def test_the_unreadable_form():
    """207 twice, 981 on a list that ends at 412, 23 numbers for a cap of 20: 20 are kept, 3 go to the alternatives.

    Common practice, no source (trade facts, story 5).
    """
    numbers = [*range(201, 224), 981, 207]
    found = checked(" ".join(map(str, numbers)), cap=20, alternatives=Alternatives.LIST)
    assert [wish.line for wish in found.wishes] == list(range(201, 221))
    assert found.alternatives == (221, 222, 223)
    assert {one.fault: one.sentence for one in found.problems} == {
        Fault.TWICE: "207 is there more than once and counts once.",
        Fault.UNKNOWN: "981 is not on the list, which ends at 412.",
        Fault.OVER_CAP: "23 packets are asked for, and there can be 20; 221, 222 and 223 go to the alternatives.",
    }
    assert reply("Marit Olden", exchange(), found, DAY).splitlines() == [
        "Dear Marit Olden,",
        "Thank you for your order for Spring round 2027. Noted: 20 packets and 3 alternatives.",
        " ".join(one.sentence for one in found.problems),
        "If you would like it otherwise, please write again by 31 Mar 2027.",
    ]


def test_where_nothing_is_wrong_the_reply_says_so_by_saying_nothing_more():
    found = checked("1 2", "3", alternatives=Alternatives.LIST)
    assert reply("", exchange(), found, DAY) == (
        "Good day,\nThank you for your order for Spring round 2027. Noted: 2 packets and 1 alternative."
    )
    assert "no packet yet" in reply("Marit", exchange(closes=None), checked(""), DAY)


def test_a_reply_names_no_day_that_is_past():
    found, last = checked("1 1"), exchange().closes
    assert reply("Ida", exchange(), found, last).endswith("please write again by 31 Mar 2027.")
    assert reply("Ida", exchange(), found, last + timedelta(days=1)).endswith("please write again.")


@pytest.mark.parametrize(
    ("alternatives", "kept", "others"),
    [
        (Alternatives.NONE, [Wish(188), Wish(3)], ()),
        (Alternatives.LIST, [Wish(188), Wish(3)], (201, 9)),
        (Alternatives.RANKED, [Wish(188), Wish(3)], (201, 9)),
        (Alternatives.PER_LINE, [Wish(188, 1, 201), Wish(3)], ()),
    ],
)
def test_alternatives_count_in_the_form_that_the_round_has(alternatives, kept, others):
    found = checked("188/201 3", "9", alternatives=alternatives)
    assert list(found.wishes) == kept
    assert found.alternatives == others
    told = {Alternatives.NONE: ["201 is", "9 is"], Alternatives.PER_LINE: ["9 is"]}.get(alternatives, ["201 goes"])
    assert len(found.problems) == len(told)
    for problem, words in zip(found.problems, told, strict=True):
        assert problem.fault is Fault.NO_ALTERNATIVES
        assert words in problem.sentence


def test_alternatives_are_checked_as_first_choices_are():
    found = checked("1 2", "2 3 3 981 981", alternatives=Alternatives.RANKED)
    assert found.alternatives == (3,)
    assert faults(found) == [Fault.TWICE, Fault.TWICE, Fault.UNKNOWN]
    per_line = checked("1/1 2/981 3/1", alternatives=Alternatives.PER_LINE)
    assert per_line.wishes == (Wish(1), Wish(2), Wish(3, 1, 1))
    assert faults(per_line) == [Fault.TWICE, Fault.UNKNOWN]


def test_what_is_sold_out_is_told_on_a_standing_list_alone():
    lines = listed(9, sold_out=(7, 8))
    standing = {"shape": Shape.STANDING, "closes": None, "lines": lines}
    assert checked("7 1", lines=lines).problems == ()
    assert checked("7 1", **standing).wishes == (Wish(1),)
    with_list = checked("7 1", "2", alternatives=Alternatives.LIST, **standing)
    assert with_list.wishes == (Wish(7), Wish(1))
    assert [one.sentence for one in with_list.problems] == ["7 is sold out; an alternative comes instead."]
    beside = checked("7/3 8", alternatives=Alternatives.PER_LINE, **standing)
    assert beside.wishes == (Wish(7, 1, 3),)
    assert [one.severity for one in beside.problems] == [Severity.CHANGED, Severity.LEFT_OUT]


def test_a_line_without_packets_is_gone_in_a_round():
    lines = [replace(one, packets=0, left=0) if one.number == 7 else one for one in listed(9)]
    assert [one.sentence for one in checked("7 1", lines=lines).problems] == ["7 is gone, so it is left out."]
    instead = checked("7 1", "2", lines=lines, alternatives=Alternatives.LIST)
    assert [one.sentence for one in instead.problems] == ["7 is gone; an alternative comes instead."]


def test_the_cap_of_a_standing_list_counts_what_came_before_in_the_year():
    """20 packets per person and year, not per order, is the rule of a standing list seen (trade facts, 1.3)."""
    found = checked("1x2 2 3", shape=Shape.STANDING, closes=None, cap=20, asker=Asker(had=17))
    assert found.wishes == (Wish(1, 2), Wish(2))
    assert [one.sentence for one in found.problems] == [
        "4 packets are asked for and 17 came before, and there can be 20 in a year; 3 is left out."
    ]
    full = checked("1", shape=Shape.STANDING, closes=None, cap=20, asker=Asker(had=25))
    assert full.wishes == ()
    assert "1 packet is asked for and 25 came before" in full.problems[0].sentence


def test_donors_and_helpers_may_ask_for_more():
    """23 packets and 7 more for donors or packers is the rule of a large exchange seen (trade facts, 1.3)."""
    many = " ".join(map(str, range(1, 41)))
    for asker, most in ((Asker(), 23), (Asker(donor=True), 30), (Asker(donor=True, helper=True), 30)):
        assert checked(many, cap=23, extra=7, asker=asker).packets == most


def test_at_most_three_of_the_scarce_class():
    """At most 3 packets from the scarce class is the rule of a large exchange seen (trade facts, 1.3)."""
    lines = listed(9, limited=(1, 2, 3, 4))
    found = checked("1 5 2x2 3 4 6", lines=lines, limited_cap=3, alternatives=Alternatives.LIST)
    assert found.wishes == (Wish(1), Wish(5), Wish(2, 2), Wish(6))
    assert found.alternatives == (3, 4)
    assert faults(found) == [Fault.OVER_LIMITED]
    split = checked("1x2 2x2", lines=lines, limited_cap=3)
    assert split.wishes == (Wish(1, 2), Wish(2, 1))
    assert "fewer packets are kept of 2." in split.problems[0].sentence
    assert split.problems[0].severity is Severity.CHANGED
    both = checked("1x2 2x2 3 4", lines=lines, limited_cap=3)
    assert both.problems[0].sentence.endswith("; fewer packets are kept of 2, and 3 and 4 are left out.")
    assert both.problems[0].severity is Severity.LEFT_OUT


def test_of_one_number_no_more_than_the_line_cap():
    found = checked("1x3 2", line_cap=1)
    assert found.wishes == (Wish(1), Wish(2))
    assert found.problems[0].sentence == "3 packets of 1 are asked for; of one number there can be 1."


def test_a_list_without_numbers_knows_none():
    bare = [replace(one, number=None) for one in listed(3)]
    assert [one.sentence for one in checked("1", lines=bare).problems] == ["1 is not on the list."]


_numbers = st.integers(1, 14)
_wishes = st.lists(st.builds(Wish, _numbers, st.integers(1, 3), st.none() | _numbers), max_size=12)
_caps = st.none() | st.integers(1, 8)


@given(
    st.builds(Asked, _wishes.map(tuple), st.lists(_numbers, max_size=6).map(tuple)),
    st.builds(
        Rules, alternatives=st.sampled_from(Alternatives), cap=_caps, extra=st.integers(0, 3), limited_cap=_caps,
        line_cap=_caps,
    ),
    st.builds(Asker, st.booleans(), st.booleans(), st.integers(0, 5)),
    st.sampled_from(Shape),
)  # fmt: skip
def test_what_is_kept_keeps_every_rule_and_is_kept_again_untold(asked, rules, asker, shape):
    terms = Terms(rules)
    where = replace(exchange(shape), terms=terms)
    lines = numbered(listed(10, limited=(2, 3, 5), sold_out=(4, 5)))
    found = check(asked, where, lines, asker)
    known = set(lines)
    firsts = [wish.line for wish in found.wishes]
    assert set(firsts) <= {wish.line for wish in asked.wishes} & known
    assert len(set(firsts)) == len(firsts)
    assert len(set(found.alternatives)) == len(found.alternatives)
    assert not set(found.alternatives) & set(firsts)
    if rules.cap is not None:
        more = rules.extra if asker.donor or asker.helper else 0
        assert found.packets <= max(rules.cap + more - asker.had, 0)
    if rules.line_cap is not None:
        assert all(wish.packets <= rules.line_cap for wish in found.wishes)
    if rules.limited_cap is not None:
        assert sum(wish.packets for wish in found.wishes if wish.line in (2, 3, 5)) <= rules.limited_cap
    if rules.alternatives is not Alternatives.PER_LINE:
        assert all(wish.alternate is None for wish in found.wishes)
    if rules.alternatives in (Alternatives.NONE, Alternatives.PER_LINE):
        assert found.alternatives == ()
    if found.problems:
        again = check(Asked(found.wishes, found.alternatives), where, lines, asker)
        assert {one.fault for one in again.problems} <= {Fault.SOLD_OUT}
    else:
        assert (found.wishes, found.alternatives) == (asked.wishes, asked.alternatives)
