"""Imported by the process that the workers are forked from: what every worker would import first.

A start then costs a tenth, and the ordeal spends its time on work and kills. What is killed is a process of its own.
Nothing is run here: a compiler of pages that began before the fork would hang after it.
"""

from importlib import import_module

import gateway.cli
import gateway.service.opening  # noqa: F401  (loaded here, for the workers)
from gateway.fhir.rules.models import MODULES

for module in MODULES.values():
    import_module(f"fhir.resources.R4B.{module}")
