"""What a scan is and leads to."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core import codes, scanning
from sporebank.core.errors import Refusal
from sporebank.core.records import Line, Packet, TaxonName
from sporebank.core.scanning import Fault, Misread, Mode, Step

VIAL = codes.make("V", "7K2", 1234)
PLACE = codes.make("L", "7K2", 5)
NAME = TaxonName("Osmunda", "regalis")


@given(st.sampled_from(sorted(codes.KINDS)), st.integers(0, 32**5 - 1), st.booleans(), st.booleans())
def test_a_right_code_is_read_with_or_without_hyphens_in_any_case(kind, serial, hyphens, low):
    code = codes.make(kind, "7K2", serial)
    written = codes.grouped(code) if hyphens else code
    assert scanning.read(written.lower() if low else written, "7K2").text == code


def test_every_fault_has_its_own_sentence_and_its_own_sound():
    wrong = VIAL[:-1] + ("0" if VIAL[-1] != "0" else "1")
    with pytest.raises(Misread, match="has a mistake in it") as mistake:
        scanning.read(wrong, "7K2")
    with pytest.raises(
        Misread, match=r"is a vial of another bank: its tag is 7K2, not ABC\. Look it up in the manif"
    ) as foreign:
        scanning.read(VIAL, "ABC")
    unknown = scanning.unknown(codes.parse(VIAL, "7K2"))
    assert "nothing here carries it" in str(unknown)
    faults = [mistake.value.fault, foreign.value.fault, unknown.fault]
    assert faults == [Fault.MISTAKE, Fault.FOREIGN, Fault.UNKNOWN]
    assert len({scanning.BEEPS[fault] for fault in faults}) == 3


def test_a_mistake_in_the_tag_is_no_other_bank():
    wrong = f"{VIAL[0]}A{VIAL[2:]}"
    with pytest.raises(Misread) as told:
        scanning.read(wrong, "7K2")
    assert told.value.fault is Fault.MISTAKE


@pytest.mark.parametrize(
    ("mode", "code", "has_place", "step"),
    [
        (Mode.FIND, PLACE, False, Step.FIND),
        (Mode.FIND, VIAL, False, Step.FIND),
        (Mode.TAKE, VIAL, False, Step.TAKE),
        (Mode.MOVE, PLACE, False, Step.TURN),
        (Mode.MOVE, VIAL, True, Step.MOVE),
        (Mode.PACK, VIAL, False, Step.PACK),
        (Mode.PACK, codes.make("K", "7K2", 5), False, Step.PACK),
        (Mode.CULL, VIAL, False, Step.TICK),
    ],
)
def test_the_mode_decides(mode, code, has_place, step):
    assert scanning.decide(mode, codes.parse(code, "7K2"), has_place=has_place) is step


@pytest.mark.parametrize(
    ("mode", "code", "says"),
    [
        (Mode.MOVE, VIAL, "Scan the place first"),
        (Mode.TAKE, PLACE, "is a place; here each scan should be of a vial"),
        (Mode.CULL, PLACE, "Nothing was done"),
        (Mode.PACK, PLACE, "is a place; here each scan should be of a packet"),
    ],
)
def test_what_does_nothing_says_what_to_scan(mode, code, says):
    with pytest.raises(Refusal, match=says):
        scanning.decide(mode, codes.parse(code, "7K2"), has_place=False)


def test_every_page_begins_with_finding():
    assert all(modes[0] is Mode.FIND for modes in scanning.MODES_OF_PAGE.values())
    assert {mode for modes in scanning.MODES_OF_PAGE.values() for mode in modes} == set(Mode)


def _line(number: int, clone_id: int | None, packets: int, filled: int) -> Line:
    held = tuple(Packet(n, number, 1, 9, "", "", "", 2000) for n in range(filled))
    return Line(number, number, NAME, 3, clone_id, "", packets, 2000, "", held)


def test_a_wish_that_lacks_packets_wants_a_vial_of_its_kind():
    full, of_clone, of_taxon = _line(1, None, 1, 1), _line(2, 8, 2, 1), _line(3, None, 2, 1)
    lines = (full, of_clone, of_taxon)
    assert scanning.wanting(lines, 3, 8) is of_clone
    assert scanning.wanting(lines, 3, 7) is of_taxon
    assert scanning.wanting(lines, 4, 7) is None


@given(st.lists(st.tuples(st.sampled_from("ab"), st.floats(0, 3)), max_size=30))
def test_what_stays_in_sight_is_fresh_once(sights):
    once, now, last = scanning.Once(2.0), 0.0, {}
    for text, later in sights:
        now += later
        assert once.fresh(text, now) is (text not in last or now - last[text] >= 2.0)
        last[text] = now
