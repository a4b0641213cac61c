"""Papers and readers that the tests of documents share. People and places are fiction."""

import ctypes
from datetime import date

import pypdfium2
import pypdfium2.raw
import zxingcpp
from PIL import ImageOps

from sporebank.core import codes
from sporebank.core.dates import PartDate
from sporebank.core.layout import Kind
from sporebank.core.papers import (
    AddressLabel,
    Counted,
    CullItem,
    CullSheet,
    Kept,
    Manifest,
    ManifestItem,
    PacketLabel,
    PackingItem,
    PackingList,
    ParcelLabel,
    PlaceLabel,
    PotLabel,
    Unfilled,
    VialLabel,
)
from sporebank.core.records import Permission, Share, Source, State, TaxonName

BANK = "The Alder Carr spore bank"
PARCEL = codes.make("R", "K7F", 7)
DAY = date(2026, 3, 3)
CAUTION = "Seal and bin, do not compost."
NAMES = (
    TaxonName("Asplenium", "scolopendrium"),
    TaxonName("Dryopteris", "intermedia", hybrid_epithet=True),
    TaxonName("Athyrium", "filix-femina", rank="var.", infra="angustum", cultivar="Lady in Red", ex=True),
    TaxonName("Dryopteris", "affinis", cultivar="Тайная Жар-птица"),
    TaxonName("Adiantum", "capillus-veneris", cultivar="Ωραία Πτέρις"),
    TaxonName("Polystichum", "setiferum", group="Divisilobum", cultivar="Dahlem"),
)
LONG = TaxonName("Polypodium", "cambricum", cultivar="Trailing Star of the Long Western Cliffs above")


def vial(i=0, name=None, amount="14.2 mg", place="Fridge 1 / Box 2 / C3", clone="DS-03", **more):
    code = codes.make("V", "K7F", i + 1)
    return VialLabel(code, name or NAMES[i % len(NAMES)], clone, PartDate(2019, 8, 14), amount, place, **more)


def bag(i=0):
    return vial(i, origin="wild, wall at the old mill, 240 m", note="Not yet screened.")


def pot(i=0):
    batch = codes.make("B", "K7F", 12)
    return PotLabel(codes.make("P", "K7F", i + 1), NAMES[i % len(NAMES)], "DS-03", DAY, batch)


def packet(i=0):
    code = codes.make("K", "K7F", i + 1)
    alive, cautions = "about 62 % alive (41 to 78)", (CAUTION,) * (i % 2)
    return PacketLabel(
        code, NAMES[i % len(NAMES)], "DS-03", PartDate(2019, 8), "5 mg", alive, PARCEL, i + 1, cautions,
        origin="garden, Alder Carr", vial=codes.make("V", "K7F", i + 1),
    )  # fmt: skip


def box(i=0):
    code = codes.make("L", "K7F", i + 1)
    return PlaceLabel(code, f"Box {i + 1}", "Store room / Fridge 1", "4 °C, 15 % RH", "9 × 9 slots, A1 to J9")


def place(i=0):
    title = ("Fridge 1", "Store room", "Freezer of the far house", "Shelf 3")[i % 4]
    return PlaceLabel(codes.make("L", "K7F", i + 1), title, "Alder Carr / Cold house", "4 °C, 15 % RH")


ADDRESS = ("Marit Olander", "The Fern House", "4 Mill Lane", "Oxbow Bridge", "NETHERLANDS")


def address(i=0):
    return AddressLabel(ADDRESS[: 5 - i % 2], f"From {BANK}, Alder Carr")


def parcel(i=0):
    code = codes.make("R", "K7F", i + 7)
    return ParcelLabel(code, ADDRESS[: 5 - i % 2], f"From {BANK}", DAY, "12 packets of fern spore")


LABELS = {
    Kind.VIAL: vial,
    Kind.CAP: vial,
    Kind.POT_UPRIGHT: pot,
    Kind.POT_ALONG: pot,
    Kind.PACKET: packet,
    Kind.BAG: bag,
    Kind.BOX: box,
    Kind.PLACE: place,
    Kind.ADDRESS: address,
    Kind.PARCEL: parcel,
}


def packing_list(count=4, **changes):
    items = tuple(
        PackingItem(
            i + 1, f"Box {9 - i % 9}", f"{9 - i % 9}", codes.make("V", "K7F", i + 1), NAMES[i % len(NAMES)],
            "DS-03", 5000, 14200, "Alternative & <second> choice" if i == 1 else "",
        )
        for i in range(count)
    )  # fmt: skip
    unfilled = (Unfilled(40, "Woodwardia radicans", "No vial is above 30 % alive."),)
    return PackingList(BANK, PARCEL, "Marit Olander\n4 Mill Lane", DAY, items, changes.get("unfilled", unfilled))


def manifest(count=4, **changes):
    items = tuple(
        ManifestItem(
            line=i + 1, code=codes.make("V", "K7F", i + 1), name=NAMES[i % len(NAMES)], clone="DS-03",
            source=Source.WILD, origin="wall, 240 m; \"the mill\",\nnorth side", collected=PartDate(2019, 8),
            micrograms=5000, share=None if i % 3 == 2 else Share(0.41, 0.62, 0.785), state=State.ALIVE,
            basis="From 3 tests, 300 spores.", as_of=DAY, spore_class="non-green", permission=Permission.ASK,
            permit="=12/2019", network_number="XX-0-ABCDE-2019.123", cautions=(CAUTION, "Dust mask.") * (i % 2),
            batch=codes.make("B", "K7F", 1 + i // 2),
            kept=(Kept(date(2019, 9, 2), None), Kept(date(2020, 1, 5), -18.5))[: i % 3],
            tests=(Counted(date(2021, 1, 4), date(2021, 2, 8), ((88, 100), (91, 100))),) * (i % 2),
            country=("NL", "")[i % 2],
        )
        for i in range(count)
    )  # fmt: skip
    whole = {"bank": BANK, "cautions": ("Spore is dust: wear a dust mask.", "Ask before it crosses a border.")}
    return Manifest(PARCEL, bank_tag="K7F", sent_on=DAY, recipient="Olander, Marit", items=items, **(whole | changes))


def cull_sheet(count=4):
    items = tuple(
        CullItem(
            f"Box {i}", f"{i:03d}", codes.make("V", "K7F", i + 1), NAMES[i % len(NAMES)], "DS-03", 800,
            "Almost surely below 20 %.", last_of_clone=i == 0, disposal=CAUTION if i == 1 else "",
        )
        for i in range(count)
    )  # fmt: skip
    return CullSheet(BANK, DAY, items, "Ada Brock")


def text_of(pdf_bytes):
    """Return all text of a PDF on one line, as PDFium reads it back."""
    with pypdfium2.PdfDocument(pdf_bytes) as pdf:
        return " ".join(" ".join(page.get_textpage().get_text_bounded() for page in pdf).split())


def pictures(pdf_bytes, dpi):
    with pypdfium2.PdfDocument(pdf_bytes) as pdf:
        return [page.render(scale=dpi / 72, grayscale=True).to_pil() for page in pdf]


def symbols(pictures_of_pages):
    """Return the text of every QR symbol that ZXing-C++ reads."""
    only_qr, marked = zxingcpp.BarcodeFormat.QRCode, map(without_margins, pictures_of_pages)
    return sorted(found.text for one in marked for found in zxingcpp.read_barcodes(one, formats=only_qr))


def without_margins(picture, kept=100):
    """Return a picture without the blank paper all around what is on it, which would take long to search."""
    left, top, right, bottom = ImageOps.invert(picture).getbbox() or (0, 0, 1, 1)
    left, top = max(left - kept, 0), max(top - kept, 0)
    return picture.crop((left, top, min(right + kept, picture.width), min(bottom + kept, picture.height)))


def fonts_used(pdf_bytes):
    """Return (name, embedded) of the font of every text object, as PDFium sees it."""
    raw = pypdfium2.raw
    used = set()
    with pypdfium2.PdfDocument(pdf_bytes) as pdf:
        for page in pdf:
            for found in page.get_objects(filter=[raw.FPDF_PAGEOBJ_TEXT]):
                font = raw.FPDFTextObj_GetFont(found.raw)
                name = ctypes.create_string_buffer(100)
                raw.FPDFFont_GetBaseFontName(font, name, 100)
                used.add((name.value.decode(), bool(raw.FPDFFont_GetIsEmbedded(font))))
    return used
