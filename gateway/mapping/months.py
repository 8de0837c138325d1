"""Names of months in dates, by language. Which language a file is in is declared by its map, never guessed.

The names are those that Unicode CLDR 48 gives for a month beside a day (format, wide); after them stand those that it
has for a month alone or shortens otherwise. Beginnings of three letters and more are taken while they fit one month
only, so `jui` is no French month.
"""

import unicodedata
from functools import lru_cache

MONTHS = {
    "cs": "ledna|leden února|únor března|březen dubna|duben května|květen června|červen července|červenec"
    " srpna|srpen září října|říjen listopadu|listopad prosince|prosinec",
    "da": "januar februar marts april maj juni juli august september oktober november december",
    "de": "januar februar märz april mai juni juli august september oktober november dezember",
    "en": "january february march april may june july august september october november december",
    "es": "enero febrero marzo abril mayo junio julio agosto septiembre|setiembre octubre noviembre diciembre",
    "fi": "tammikuuta helmikuuta maaliskuuta huhtikuuta toukokuuta kesäkuuta heinäkuuta elokuuta syyskuuta"
    " lokakuuta marraskuuta joulukuuta",
    "fr": "janvier février mars avril mai juin juillet août septembre octobre novembre décembre",
    "it": "gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre dicembre",
    "nb": "januar februar mars april mai juni juli august september oktober november desember",
    "nl": "januari februari maart|mrt april mei juni juli augustus september oktober november december",
    "pl": "stycznia|styczeń lutego|luty marca|marzec kwietnia|kwiecień maja|maj czerwca|czerwiec lipca|lipiec"
    " sierpnia|sierpień września|wrzesień października|październik listopada|listopad grudnia|grudzień",
    "pt": "janeiro fevereiro março abril maio junho julho agosto setembro outubro novembro dezembro",
    "sv": "januari februari mars april maj juni juli augusti september oktober november december",
}
SHORTEST = 3


@lru_cache(maxsize=512)
def month(language: str, name: str) -> int | None:
    """Number of a month from 1; None when the name fits none or several. Capitals, accents and a final full stop
    make no difference.
    """
    said = _bare(name.removesuffix("."))
    if len(said) < SHORTEST:
        return None
    names = [[_bare(each) for each in names.split("|")] for names in MONTHS[language].split()]
    whole = [at for at, each in enumerate(names, 1) if said in each]
    begun = whole or [at for at, each in enumerate(names, 1) if any(full.startswith(said) for full in each)]
    return begun[0] if len(begun) == 1 else None


def _bare(text: str) -> str:
    split = unicodedata.normalize("NFKD", text.casefold())
    return "".join(sign for sign in split if not unicodedata.combining(sign))
