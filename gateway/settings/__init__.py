"""What IT wrote: TOML, credential files and environment -> one frozen, checked `Settings`.

layers    file < credential files < environment, merged before anything is checked
sections  every key with its meaning        destination  one record server
words     what is wrong, and what to write instead
chosen    settings + mappings -> the rules for the core, and what work needs before it may start
maps      the shipped mappings with the site's own laid over them
"""

from gateway.settings.chosen import EXAMPLE, default_person_rules, ready_for_work, rules, site_defaults
from gateway.settings.layers import load
from gateway.settings.sections import Settings

__all__ = ["EXAMPLE", "Settings", "default_person_rules", "load", "ready_for_work", "rules", "site_defaults"]
