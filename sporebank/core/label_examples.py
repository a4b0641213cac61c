"""Labels of made-up things, to see a layout by: one that asks for much room, and one that asks for little."""

from __future__ import annotations

from datetime import date

from sporebank.core import codes
from sporebank.core.dates import PartDate
from sporebank.core.layout import Kind
from sporebank.core.papers import AddressLabel, Label, PacketLabel, ParcelLabel, PlaceLabel, PotLabel, VialLabel
from sporebank.core.records import TaxonName

_TAG = "A7C"
_DAY = date(2026, 3, 3)
_SHORT = TaxonName("Osmunda", "regalis")
_LONG = TaxonName("Polypodium", "cambricum", cultivar="Trailing Star of the Western Cliffs")
_NOTE = "not yet screened"


def examples(kind: Kind) -> tuple[Label, Label]:
    """Return two labels of a kind; the first is long in every text."""
    if kind in (Kind.VIAL, Kind.CAP, Kind.BAG):
        return _long_vial(), _vial()
    if kind in (Kind.POT_ALONG, Kind.POT_UPRIGHT):
        batch = codes.make("B", _TAG, 12)
        short = PotLabel(codes.make("P", _TAG, 1), _SHORT, "OR-01", _DAY, batch)
        return PotLabel(codes.make("P", _TAG, 2), _LONG, "PC-1976-04", _DAY, batch, _NOTE), short
    if kind is Kind.PACKET:
        return _long_packet(), _packet()
    if kind in (Kind.BOX, Kind.PLACE):
        return _long_place(), _place()
    if kind is Kind.ADDRESS:
        return AddressLabel(_LONG_ADDRESS, _LONG_SENDER, _NOTE), AddressLabel(_ADDRESS, _SENDER)
    parcel = codes.make("R", _TAG, 7)
    return (
        ParcelLabel(parcel, _LONG_ADDRESS, _LONG_SENDER, _DAY, "124 packets of fern spore", _NOTE),
        ParcelLabel(parcel, _ADDRESS, _SENDER, _DAY, "3 packets of fern spore"),
    )


def _vial() -> Label:
    return VialLabel(codes.make("V", _TAG, 1), _SHORT, "OR-01", PartDate(2024), "14 mg", "Box 2 / C3", "garden")


def _long_vial() -> Label:
    return VialLabel(
        codes.make("V", _TAG, 2), _LONG, "PC-1976-04", PartDate(2019, 9, 24), "about 1,250 mg",
        "Store room / Chest freezer / Drawer 2 / Box 14 / J9", "wild, old wall above the mill stream, 240 m", _NOTE,
    )  # fmt: skip


def _packet() -> Label:
    return PacketLabel(
        codes.make("K", _TAG, 1), _SHORT, "OR-01", PartDate(2024), "5 mg", "about 90 % alive (84 to 95)",
        codes.make("R", _TAG, 7), 1, origin="garden", vial=codes.make("V", _TAG, 1),
    )  # fmt: skip


def _long_packet() -> Label:
    return PacketLabel(
        codes.make("K", _TAG, 2), _LONG, "PC-1976-04", PartDate(2019, 9, 24), "about 1,250 mg",
        "about 62 % alive (41 to 78)", codes.make("R", _TAG, 7), 124, ("Seal and bin, do not compost.",),
        "wild, old wall above the mill stream, 240 m", _NOTE, codes.make("V", _TAG, 2),
    )  # fmt: skip


def _place() -> Label:
    return PlaceLabel(codes.make("L", _TAG, 1), "Box 2", "Fridge 1", "4 °C", "9 × 9 slots")


def _long_place() -> Label:
    return PlaceLabel(
        codes.make("L", _TAG, 2), "Box 14, green spore of the far house", "Store room / Chest freezer / Drawer 2",
        "−18 °C, 15 % RH since 2019", "9 × 9 slots, A1 to J9", _NOTE,
    )  # fmt: skip


_ADDRESS = ("Ada Brock", "4 Mill Lane", "Oxbow Bridge")
_SENDER = "From Alder Carr"
_LONG_ADDRESS = (
    "Maximiliane van der Oldenburgh", "Fern House, second gate past the water mill", "4 Upper Mill Lane",
    "Oxbow Bridge upon Alder", "NETHERLANDS",
)  # fmt: skip
_LONG_SENDER = "From the Alder Carr spore bank, Cold House, Alder Carr"
