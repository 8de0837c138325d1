"""Is the guideline still the one to go by? Editions age, and numbers are compared with their sources at a date."""

from collections.abc import Iterator

from gateway.validate.case import Case, Remark, note


def edition_current(case: Case) -> Iterator[Remark]:
    """A note for a superseded edition, and for numbers that nobody compared with their sources for long."""
    for remark in case.rules.guideline.aged(case.now.date()):
        yield note("guideline-edition", remark)
