"""Countries by ISO 3166-1, as pycountry has them; loaded when first asked for."""

from __future__ import annotations

import unicodedata
from functools import lru_cache

_EVERYDAY = {
    "uk": "GB", "u.k.": "GB", "great britain": "GB", "britain": "GB", "england": "GB", "scotland": "GB", "wales": "GB",
    "northern ireland": "GB", "republic of ireland": "IE", "eire": "IE", "usa": "US", "u.s.a.": "US", "u.s.": "US",
    "america": "US", "holland": "NL", "nederland": "NL", "belgie": "BE", "belgique": "BE", "deutschland": "DE",
    "osterreich": "AT", "schweiz": "CH", "suisse": "CH", "svizzera": "CH", "italia": "IT", "espana": "ES",
    "polska": "PL", "cesko": "CZ", "czech republic": "CZ", "danmark": "DK", "sverige": "SE", "norge": "NO",
    "suomi": "FI", "magyarorszag": "HU", "turkey": "TR", "russia": "RU", "korea": "KR", "brasil": "BR",
}  # fmt: skip
"""What people write for a country beside its name in the standard, in small letters without accents; from memory."""
ASK = "Give the country by its two letters (ISO 3166-1), such as NL."


@lru_cache(maxsize=512)
def _found(code: str) -> tuple[str, str] | None:
    """Return the three letters and the English name of a country, or None where there is none."""
    import pycountry  # reads its tables, needed only here

    country = pycountry.countries.get(alpha_2=code.strip().upper())
    return None if country is None else (country.alpha_3, getattr(country, "common_name", country.name))


def fits(code: str) -> bool:
    """Return whether this is the alpha-2 code of a country, or nothing at all."""
    return not code.strip() or _found(code) is not None


def name(code: str) -> str:
    """Return a country's name in English; what is no code comes back as it is."""
    found = _found(code) if code.strip() else None
    return code if found is None else found[1]


def three_letters(code: str) -> str:
    """Return the alpha-3 code of a country; nothing for what is no code."""
    found = _found(code) if code.strip() else None
    return "" if found is None else found[0]


@lru_cache(maxsize=512)
def code(said: str) -> str:
    """Return the alpha-2 code of a country that is said by a code or a usual name; nothing for what is none."""
    import pycountry  # reads its tables, needed only here

    spread = unicodedata.normalize("NFKD", " ".join(said.split()).casefold())
    plain = "".join(one for one in spread if not unicodedata.combining(one)).removeprefix("the ")
    if plain in _EVERYDAY:
        return _EVERYDAY[plain]
    try:
        found = pycountry.countries.lookup(said.strip().removeprefix("The ").removeprefix("the "))
    except LookupError:
        return ""
    return str(found.alpha_2)
