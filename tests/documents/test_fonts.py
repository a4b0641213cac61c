import pytest

from sporebank.core.errors import Refusal
from sporebank.core.records import Run
from sporebank.documents import fonts

LETTERS = {
    "Latin": range(0x20, 0x7F),
    "Latin-1 and Latin Extended-A": [c for c in range(0xA0, 0x180) if c != 0xAD],
    "Greek": [*range(0x391, 0x3A2), *range(0x3A3, 0x3CF), *range(0x388, 0x38B), 0x38C, 0x390],
    "Greek Extended": range(0x1F00, 0x1F08),
    "Cyrillic": range(0x400, 0x500),
    "signs of names": [ord(sign) for sign in "×‘’“”–·°µ"],
}  # blocks of the Unicode Standard


@pytest.mark.parametrize("block", LETTERS)
def test_every_face_covers_the_scripts_of_names(block):
    assert fonts.missing("".join(map(chr, LETTERS[block]))) == ()


def test_a_character_without_a_glyph_is_named():
    assert fonts.missing("Fern 漢a漢") == ("漢",)
    assert "漢 (U+6F22)" in fonts.missing_sentence("Fern 漢")
    assert fonts.missing_sentence("Fern") == ""
    with pytest.raises(Refusal, match="Latin, Greek or Cyrillic"):
        fonts.printable("漢")


def test_texts_are_composed_and_freed_of_what_nobody_sees():
    assert fonts.printable("e\u0301\u200b  a\n b\u00a0c ") == "é a b c"  # Unicode Standard Annex 15: NFC


def test_condensed_is_narrower_and_width_grows_with_size():
    line = (Run("Asplenium", True), Run(" 'Crispum'"))
    assert fonts.measure(line, True) < 0.9 * fonts.measure(line, False)
    assert fonts.measure_strong(line, False) > fonts.measure(line, False)
    assert fonts.measure_strong(line, True) < 0.9 * fonts.measure_strong(line, False)
    assert fonts.text_width("fern", fonts.REGULAR, 10) == pytest.approx(10 * fonts.text_width("fern", fonts.REGULAR, 1))


def test_faces_and_their_files_are_there_with_the_licence():
    chosen = {fonts.face(italic=i, condensed=c, strong=s) for i in (0, 1) for c in (0, 1) for s in (0, 1)}
    assert chosen == set(fonts.FACES)
    assert all(fonts.font_file(face).is_file() for face in fonts.FACES)
    licence = (fonts.font_file(fonts.REGULAR).parent / "OFL.txt").read_text(encoding="utf-8")
    assert "SIL OPEN FONT LICENSE Version 1.1" in licence
