"""Outcome of the site's local review rule."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Review:
    """Did any measured reading meet the site's review rule?

    `rule` names the rule ("" when the site set none or declined one); `rows` are the file rows that met it, in
    order of time; `sentence` is what stands first on every result, "" when nothing met it. It adds no diagnosis
    and is no triage.
    """

    rule: str = ""
    rows: tuple[int, ...] = ()
    sentence: str = ""

    @property
    def met(self) -> bool:
        """True when at least one reading met the rule."""
        return bool(self.rows)
