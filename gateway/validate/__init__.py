"""Recording -> Examined: what was found, what each reading may be used for, and was it good enough.

    from gateway.validate import examine

`examining` reads as the order of the rules: `review` first of all, then `person`, `timing`, `units` and
`plausibility`, then the windows of `gateway.periods`, `spread`, and `adequacy` on the `programme` of the monitor.
`case` holds what every rule is given and gives back; `known` tells recordings that were taken in before.
"""

from gateway.validate.examining import RULES, examine
from gateway.validate.number import canonical

__all__ = ["RULES", "canonical", "examine"]
