"""Recording -> Summary: exact means, variability, dip, rhythm, surge, stiffness, and their words.

    from gateway.analyse import summarise

`columns` cuts the readings, `kernels` sums them in whole numbers, `tally` hands the sums on; `averages`,
`variability`, `dipping`, `surge`, `stiffness` and `rhythm` turn them into statistics; `interpret`, `patterns` and
`conclusion` put them into the closed list of `words`. `result` reads as that line.
"""

from gateway.analyse.result import summarise

__all__ = ["summarise"]
