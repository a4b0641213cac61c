import pytest
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core.fit import COMFORT, Box, block_height, fit
from sporebank.core.records import Run


def measure(line, condensed):
    return sum(len(run.text) for run in line) * (0.1 if condensed else 0.2)


def runs(text):
    return ((Run(text),),)


def texts(fitted):
    return ["".join(run.text for run in line).strip() for line in fitted.lines]


WORDINGS = (runs("abcdefghij"), runs("abcde"))  # 10 signs are 2 mm a point wide, condensed 1 mm


@pytest.mark.parametrize(
    ("width", "size", "condensed", "wording"),
    [
        (16, 8, False, 0),  # the largest size
        (13, 6.5, False, 0),  # smaller, down to a comfortable 6.4
        (8, 8, True, 0),  # then condensed, again from the largest on
        (6.5, 6.5, True, 0),
        (6.3, 8, True, 1),  # then the shorter wording
        (2.1, 4, True, 1),  # at last down to the smallest
    ],
)
def test_text_is_shrunk_then_condensed_then_abbreviated(width, size, condensed, wording):
    fitted = fit(WORDINGS, Box(width, 10, 8, 4), measure)
    assert (fitted.size, fitted.condensed, fitted.wording) == (size, condensed, wording)


def test_what_fits_nowhere_is_given_up():
    assert fit(WORDINGS, Box(1.9, 10, 8, 4), measure) is None
    assert fit((), Box(10, 10, 8, 4), measure) is None


def test_a_shorter_wording_comes_before_a_second_line_and_a_second_line_before_tiny_type():
    wordings = (runs("abcdefgh ijklmnop"), runs("a ijklmnop"))
    assert fit(wordings, Box(8, 20, 8, 4, lines=2), measure).wording == 1
    broken = fit(wordings[:1], Box(8, 20, 8, 4, lines=2), measure)
    assert (texts(broken), broken.size, broken.condensed) == (["abcdefgh", "ijklmnop"], 8, True)
    assert fit(wordings[:1], Box(8, 20, 8, 4), measure).size < COMFORT * 8


def test_where_no_step_is_comfortable_the_largest_type_is_taken():
    words = (runs("abcdefgh ijklmnop qrstuvwx"),)  # condensed 2.6, 1.7 and 0.8 mm a point in one, two and three lines
    fitted = fit(words, Box(5, block_height(3, 5.5), 9, 2, lines=3), measure)
    assert (len(fitted.lines), fitted.size) == (3, 5.5)
    assert fit(words, Box(5, block_height(1, 9), 9, 1, lines=3), measure).size == 3  # three lines in the height of one


def test_a_whole_box_shortens_nothing():
    wordings = (runs("abcdefgh ijklmnop"), runs("a ijklmnop"))
    assert fit(wordings, Box(8, 20, 8, 4, lines=2, whole=True), measure).wording == 0
    assert fit(wordings, Box(1.9, 4, 8, 4, whole=True), measure) is None


def test_text_that_is_too_tall_is_given_up():
    assert fit((runs("a"),), Box(100, block_height(1, 5) - 0.01, 5, 5), measure) is None
    assert fit((runs("a"),), Box(100, block_height(1, 5), 5, 5), measure) is not None


def test_lines_break_evenly_and_ranks_stay_with_their_epithet():
    name = ((Run("Athyrium filix-femina ", True), Run("var. "), Run("angustum ", True), Run("ex 'Lady in Red'")),)
    broken = fit((name,), Box(11, 30, 5, 5, lines=3), measure)
    assert texts(broken) == ["Athyrium filix-femina", "var. angustum", "ex 'Lady in Red'"]
    assert broken.lines[1] == (Run("var. "), Run("angustum", True))


def test_a_dot_between_two_things_never_hangs_at_the_end_of_a_line():
    broken = fit((runs("DS-03 · 2019"),), Box(2.6, 30, 5, 5, lines=2), measure)
    assert broken.lines == ((Run("DS-03"),), (Run("2019"),))


def test_the_lines_of_an_address_stay_as_they_are():
    address = ((Run("The Fern House"),), (Run("4 Mill Lane"),), (Run("Oxbow"),))
    assert fit((address,), Box(40, 30, 9, 5, lines=3), measure).lines == address
    assert fit((address,), Box(40, 30, 9, 5, lines=2), measure) is None


@given(
    st.lists(st.text("abc", min_size=1, max_size=8), min_size=1, max_size=6),
    st.builds(
        Box, st.floats(1, 40), st.floats(1, 20), st.floats(6, 12), st.floats(4, 6), st.integers(1, 4), st.booleans()
    ),
)
def test_whatever_fits_is_whole_and_inside_its_box(words, box):
    text = runs(" ".join(words))
    fitted = fit((text,), box, measure)
    if fitted is not None:
        assert " ".join("".join(run.text for run in line) for line in fitted.lines) == text[0][0].text
        assert fitted.height <= box.height + 1e-6
        assert box.smallest <= fitted.size <= box.largest
        assert len(fitted.lines) <= box.lines
        assert all(measure(line, fitted.condensed) * fitted.size <= box.width + 1e-6 for line in fitted.lines)
