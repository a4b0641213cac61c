"""The one kind of failure that a grower is meant to read, and how a long job is left."""

from __future__ import annotations


class Refusal(Exception):  # noqa: N818 - it is no error of the program: it says no, and what to do next
    """Something cannot be done as asked; `str()` is a sentence that says why and what to do next.

    `field` names the request field the sentence belongs beside, where there is one.
    """

    def __init__(self, sentence: str, *, field: str | None = None) -> None:
        super().__init__(sentence)
        self.field = field


class Stopped(Exception):  # noqa: N818 - a wish of the keeper, not an error
    """Raised inside a long job to leave it, undoing what it began."""
