"""Settings of the property tests: never a verdict on the machine's speed; the same examples on every CI run.

By hand the examples are new each time, so that the search goes on; CI judges a change, not its luck.
"""

import os

from hypothesis import HealthCheck, settings

settings.register_profile("by-hand", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("ci", settings.get_profile("by-hand"), derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "by-hand")
