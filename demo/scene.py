"""The scene of the demo bank: a fernery, people and places of our own invention; the names of ferns are real botany."""

from __future__ import annotations

from datetime import date

NAME = "Wrenfold Fernery"
KEEPER = "Odile Marchbank"
COUNTRY = "GB"
#: What the cautions of every parcel are answered with.
ANSWER = "Asked both offices by letter; their answers are in the folder."
TODAY = date(2026, 5, 18)
SEED = 20260518

#: Name, spore class where the keeper overrides it (else as proposed), weight: how often batches of it are made.
TAXA: tuple[tuple[str, str, int], ...] = (
    ("Adiantum pedatum", "", 5),
    ("Adiantum venustum", "", 7),
    ("Adiantum capillus-veneris", "", 4),
    ("Arachniodes standishii", "", 3),
    ("Asplenium ceterach", "", 4),
    ("Asplenium scolopendrium", "", 8),
    ("Asplenium scolopendrium 'Undulatum Robustum'", "", 4),
    ("Asplenium trichomanes subsp. quadrivalens", "", 5),
    ("Asplenium adiantum-nigrum", "", 3),
    ("Athyrium filix-femina", "", 8),
    ("Athyrium filix-femina ex 'Frizelliae'", "", 3),
    ("Athyrium niponicum ex 'Pictum'", "", 6),
    ("Athyrium otophorum", "", 6),
    ("Athyrium 'Ghost'", "", 2),
    ("Blechnum penna-marina", "", 3),
    ("Struthiopteris spicant", "", 6),
    ("Parablechnum chilense", "", 3),
    ("Cheilanthes lanosa", "dry-land", 4),
    ("Myriopteris tomentosa", "", 3),
    ("Cyrtomium falcatum", "", 4),
    ("Cyrtomium fortunei", "", 7),
    ("Cystopteris bulbifera", "", 5),
    ("Cystopteris fragilis", "", 4),
    ("Davallia mariesii", "", 3),
    ("Deparia japonica", "", 2),
    ("Dicksonia antarctica", "", 7),
    ("Dicksonia squarrosa", "", 3),
    ("Alsophila dealbata", "", 3),
    ("Cyathea medullaris", "", 3),
    ("Sphaeropteris cooperi", "", 3),
    ("Woodwardia unigemmata", "", 5),
    ("Woodwardia radicans", "", 3),
    ("Culcita macrocarpa", "", 2),
    ("Dryopteris affinis", "", 8),
    ("Dryopteris affinis 'Cristata'", "", 4),
    ("Dryopteris filix-mas 'Linearis Polydactyla'", "", 5),
    ("Dryopteris wallichiana", "", 9),
    ("Dryopteris erythrosora", "", 9),
    ("Dryopteris sieboldii", "", 4),
    ("Dryopteris crispifolia", "", 5),
    ("Dryopteris cycadina", "", 6),
    ("Dryopteris × complexa", "", 3),
    ("Gymnocarpium dryopteris", "", 4),
    ("Matteuccia struthiopteris", "", 6),
    ("Onoclea sensibilis", "", 5),
    ("Osmunda regalis", "", 8),
    ("Osmundastrum cinnamomeum", "", 3),
    ("Equisetum hyemale", "", 2),
    ("Oreopteris limbosperma", "", 2),
    ("Phegopteris connectilis", "", 3),
    ("Polypodium cambricum", "", 6),
    ("Polypodium vulgare", "", 5),
    ("Polypodium cambricum Pulcherrimum Group", "", 4),
    ("Polystichum setiferum Divisilobum Group", "", 8),
    ("Polystichum setiferum (Plumosodivisilobum Group) 'Dahlem'", "", 4),
    ("Polystichum munitum", "", 7),
    ("Polystichum polyblepharum", "", 6),
    ("Polystichum tsus-simense", "", 7),
    ("Pteris wallichiana", "", 3),
    ("Woodsia obtusa", "", 3),
)

#: Green spore gathered this spring and still on the drying tray, with its day.
FRESH: tuple[tuple[str, date], ...] = (
    ("Equisetum hyemale", date(2026, 5, 6)),
    ("Osmunda regalis", date(2026, 5, 11)),
    ("Osmundastrum cinnamomeum", date(2026, 5, 13)),
)

OLD_NAMES = {
    "Struthiopteris spicant": "Blechnum spicant",
    "Parablechnum chilense": "Blechnum chilense",
    "Asplenium ceterach": "Ceterach officinarum",
    "Asplenium scolopendrium": "Phyllitis scolopendrium",
    "Myriopteris tomentosa": "Cheilanthes tomentosa",
    "Alsophila dealbata": "Cyathea dealbata",
    "Oreopteris limbosperma": "Thelypteris limbosperma",
}

#: Name, organisation, street and town (invented), country (ISO 3166-1 alpha-2), note.
PEOPLE: tuple[tuple[str, str, str, str, str], ...] = (
    ("Marit Olden", "", "Lindevei 4, 9902 Storvann", "NO", "Gave two tree ferns in 2019."),
    ("Tobias Fennwick", "", "3 Mill Row, Upper Dapple", "GB", "Sends name and year on every fold."),
    ("Ilse Brandhof", "", "Am Graben 11, 99801 Tannrode", "DE", ""),
    ("Jonas Ekelöv", "", "Björkstigen 7, 990 10 Åkervik", "SE", "Wants hardy kinds only."),
    (
        "Aurelia Stanhope-Vale",
        "Garden of Quellingham Hall",
        "Quellingham Hall, Netherfold",
        "GB",
        "Garden; writes formal orders.",
    ),
    ("Piet van der Loo", "", "Varenlaan 20, 9999 ZZ Mosdorp", "NL", ""),
    (
        "Clémence Aubry",
        "Jardin botanique de Valsombre",
        "1 allée des Fougères, 99450 Valsombre",
        "FR",
        "Network garden.",
    ),
    ("Hanako Mori", "", "2-14 Shidamachi, Hanazato", "JP", "Ask about the plant-health paper first."),
    ("Rowan Tallis", "", "88 Creek Road, Fern Hollow", "US", "Asks every spring."),
    ("Dilys Penhallow", "", "Bryn Rhedyn, Cwmgwyrdd", "GB", ""),
    ("Matteo Silvestri", "", "Via delle Felci 9, 99020 Boscoverde", "IT", "Likes dry-land ferns."),
    ("Wrenfold Open Days", "The plant stall", "Wrenfold Fernery", "GB", "Surplus of the summer stall."),
)

ORIGINS: tuple[tuple[str, str], ...] = (
    ("garden", "Wrenfold, north wall"),
    ("garden", "Wrenfold, stumpery"),
    ("garden", "Wrenfold, glasshouse bench 2"),
    ("wild", "Oak wood above Upper Dapple, by permission of the owner"),
    ("wild", "Shaded limestone cutting near Netherfold"),
    ("received", "As a spore packet in the winter round"),
    ("received", "As three sporelings in a plug tray"),
    ("bought", "As a named plant at the Wrenfold spring fair"),
)

NETWORK_NUMBERS = ("XX-0-VALSO-1998/0417", "GE-1-VALSO-03/2855w", "JP-0-VALSO-2007-112/a")
