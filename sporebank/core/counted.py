"""Numbers with their words: `1 packet`, `1,200 packets`."""

from __future__ import annotations


def counted(count: int, one: str, many: str = "") -> str:
    """Return a number with its word; `many` is the word with an s where it is not given."""
    return f"1 {one}" if count == 1 else f"{count:,} {many or f'{one}s'}"


def packets(count: int) -> str:
    """Return a number of packets."""
    return counted(count, "packet")


def lines(count: int) -> str:
    """Return a number of lines."""
    return counted(count, "line")


def people(count: int) -> str:
    """Return a number of people."""
    return counted(count, "person", "people")
