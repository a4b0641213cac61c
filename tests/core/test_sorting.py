from sporebank.core.sorting import natural


def test_nine_comes_before_ten_whatever_the_case():
    assert sorted(["K-10", "k-9", "K-100", "A-2"], key=natural) == ["A-2", "k-9", "K-10", "K-100"]
