"""Recording -> Summary: exact means, variability, dip, rhythm, surge, stiffness, and their words.

    from gateway.analyse import hourly_means, summarise

`columns` cuts the readings, `kernels` sums them in whole numbers, `tally` hands the sums on; `averages`,
`variability`, `dipping`, `surge`, `stiffness` and `rhythm` turn them into statistics; `interpret`, `patterns` and
`conclusion` put them into the closed list of `words`. `result` reads as that line. `trend` gives the hourly means of
the curve; `cohort` and `rhythm.rhythms` do many recordings at once.
"""

from gateway.analyse.applicability import fitting
from gateway.analyse.result import summarise
from gateway.analyse.trend import Hour, hourly_means

__all__ = ["Hour", "fitting", "hourly_means", "summarise"]
