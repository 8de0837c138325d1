"""Names of months in dates: Unicode CLDR 48 (formats `wide` and `abbreviated`, Gregorian), as ICU 78 gives them for a
day and a month.
"""

import pytest

from gateway.mapping.months import MONTHS, month
from gateway.mapping.source_time import expression
from gateway.read.values import calendar_day

SHORT = {
    "da": "jan. feb. mar. apr. maj jun. jul. aug. sep. okt. nov. dec.",
    "de": "Jan. Feb. März Apr. Mai Juni Juli Aug. Sept. Okt. Nov. Dez.",
    "en": "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec",
    "es": "ene feb mar abr may jun jul ago sept oct nov dic",
    "fr": "janv. févr. mars avr. mai juin juil. août sept. oct. nov. déc.",
    "it": "gen feb mar apr mag giu lug ago set ott nov dic",
    "nb": "jan. feb. mars apr. mai juni juli aug. sep. okt. nov. des.",
    "nl": "jan feb mrt apr mei jun jul aug sep okt nov dec",
    "pl": "sty lut mar kwi maj cze lip sie wrz paź lis gru",
    "pt": "jan. fev. mar. abr. mai. jun. jul. ago. set. out. nov. dez.",
    "sv": "jan. feb. mars apr. maj juni juli aug. sep. okt. nov. dec.",
}
WIDE = {
    "cs": "ledna února března dubna května června července srpna září října listopadu prosince",
    "da": "januar februar marts april maj juni juli august september oktober november december",
    "de": "Januar Februar März April Mai Juni Juli August September Oktober November Dezember",
    "en": "January February March April May June July August September October November December",
    "es": "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre",
    "fi": "tammikuuta helmikuuta maaliskuuta huhtikuuta toukokuuta kesäkuuta heinäkuuta elokuuta syyskuuta lokakuuta "
    "marraskuuta joulukuuta",
    "fr": "janvier février mars avril mai juin juillet août septembre octobre novembre décembre",
    "it": "gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre dicembre",
    "nb": "januar februar mars april mai juni juli august september oktober november desember",
    "nl": "januari februari maart april mei juni juli augustus september oktober november december",
    "pl": "stycznia lutego marca kwietnia maja czerwca lipca sierpnia września października listopada grudnia",
    "pt": "janeiro fevereiro março abril maio junho julho agosto setembro outubro novembro dezembro",
    "sv": "januari februari mars april maj juni juli augusti september oktober november december",
}


ALONE = {
    "cs": "leden únor březen duben květen červen červenec srpen září říjen listopad prosinec",
    "fi": "tammikuu helmikuu maaliskuu huhtikuu toukokuu kesäkuu heinäkuu elokuu syyskuu lokakuu marraskuu joulukuu",
    "pl": "styczeń luty marzec kwiecień maj czerwiec lipiec sierpień wrzesień październik listopad grudzień",
}
"""stand-alone names, where they differ"""


@pytest.mark.parametrize(("language", "names"), [*SHORT.items(), *WIDE.items(), *ALONE.items()])
def test_every_name_is_its_month(language: str, names: str) -> None:
    numbers = list(range(1, 13))
    assert [month(language, name) for name in names.split()] == numbers
    assert [month(language, name.upper()) for name in names.split()] == numbers
    found = [expression(f"D. MMM({language}) YYYY").fullmatch(f"3. {name} 2026") for name in names.split()]
    days = [calendar_day(each) for each in found if each is not None]
    assert [day.month for day in days if day is not None] == numbers


def test_all_languages_are_tested() -> None:
    assert set(WIDE) == set(MONTHS)


@pytest.mark.parametrize(
    ("language", "name"),
    [("fr", "jui"), ("cs", "čer"), ("en", "Ma"), ("en", "Mai"), ("de", "Mrz"), ("en", "Marchs")],
)
def test_what_fits_several_months_or_none_is_no_month(language: str, name: str) -> None:
    assert month(language, name) is None
