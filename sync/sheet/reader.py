"""Who reads a sheet: the language, region and paper size that a customer and the settings ask for.

It holds no words; which countries print on Letter is rulebook data.
"""

from __future__ import annotations

from sync.kernel.books import Rulebook
from sync.kernel.visit import Visit
from sync.language.locales import chosen
from sync.sheet.sheet_data import SheetSettings


def language_of(visit: Visit, settings: SheetSettings, rulebook: Rulebook) -> str:
    """The customer's language as written in the customer's country, otherwise the technician's.

    Args:
        visit: the visit [Visit]
        settings: the technician's language [SheetSettings]
        rulebook: the rulebook [Rulebook]

    Returns:
        a language tag; English if there are no words in the requested language [tag]
    """
    customer = visit.get("customer") or {}
    wanted = [tag for tag in (customer.get("language"), settings.get("language")) if tag]
    return chosen(wanted, rulebook["words"], customer.get("country"))


def paper_of(visit: Visit, language: str, settings: SheetSettings, rulebook: Rulebook) -> str:
    """The paper size of the settings, otherwise that of the customer's country or of the language's region.

    Args:
        visit: the visit [Visit]
        language: as from `language_of` [tag]
        settings: a paper size that overrides the country's [SheetSettings]
        rulebook: the rulebook [Rulebook]

    Returns:
        "A4" or "Letter" [name]

    Source: Unicode CLDR, supplemental data `paperSize`, which names the countries that print on Letter.
    """
    country = (visit.get("customer") or {}).get("country") or language.partition("-")[2]
    usual = "Letter" if country.upper() in rulebook["sheet_layout"]["letter_countries"] else "A4"
    return settings.get("paper") or usual
