"""Papers that somebody holds: import permits with their one-use labels, and agreements of gardens."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from sporebank.core.counted import counted
from sporebank.core.dates import day_label


class PermitKind(StrEnum):
    """What kind of paper it is."""

    IMPORT = "import permit"
    AGREEMENT = "agreement"
    OTHER = "other paper"


@dataclass(frozen=True)
class Permit:
    """A paper on record; `labels_left` are one-use labels, None where it has none."""

    id: int
    contact_id: int
    kind: PermitKind
    number: str
    expires: date | None = None
    labels_left: int | None = None
    note: str = ""

    def words(self) -> str:
        """Return the paper in words: `import permit 12/3, until 1 May 2026, 6 labels left`."""
        until = "" if self.expires is None else f"until {day_label(self.expires)}"
        return ", ".join(filter(None, (f"{self.kind.value} {self.number}", until, self._labels())))

    def _labels(self) -> str:
        if self.labels_left is None:
            return ""
        return counted(self.labels_left, "label left", "labels left")


def label_from(permits: Sequence[Permit], on: date) -> Permit | None:
    """Return the import permit that lends a parcel its one-use label on a day: of those that hold, the first to end."""
    holding = [
        permit
        for permit in permits
        if permit.kind is PermitKind.IMPORT and permit.labels_left and (permit.expires is None or permit.expires >= on)
    ]
    return min(holding, key=lambda permit: (permit.expires or date.max, permit.id), default=None)
