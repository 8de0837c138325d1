"""A person's number: its canonical form and its check, per identifier system of the site: by python-stdnum, or by a
pattern that the site gives.
"""

import re
import unicodedata
from collections.abc import Mapping
from importlib import import_module
from types import ModuleType

from gateway.model import Identifier

_NO_NUMBER = re.compile(r"[\W_]*|n[./ ]?a\.?|none|null|nil|nan|unknown|not known|no number|tbc", re.IGNORECASE)
PATTERN = "pattern:"
"""begins the rule of a number that the site describes itself: a regular expression for the whole number follows"""
_BETWEEN = str.maketrans("", "", " -")
_FEWEST = 4
"""from this many digits on, a number of nothing but one digit is taken for a filler"""


def is_blank(value: str) -> bool:
    """Nothing, only signs, or a word for "none"."""
    return _NO_NUMBER.fullmatch(value.strip()) is not None


def is_filler(value: str) -> bool:
    """Zeros only, or one digit over and over: something typed to get past a mandatory field."""
    digits = [sign for sign in value if sign.isalnum()]
    alike = len(set(digits)) == 1 and digits[0].isdecimal()
    return alike and (digits[0] == "0" or len(digits) >= _FEWEST)


def canonical(identifier: Identifier, systems: Mapping[str, str]) -> Identifier:
    """The number as it is searched and filed: without signs that nobody sees, its digits as 0 to 9, and without the
    blanks and hyphens that its kind allows, where the system has a check. A number that cannot be brought into that
    form is given back without the unseen signs. A letter that looks like a digit stays one: it fails the check.
    """
    identifier = Identifier(identifier.system, _seen(identifier.value))
    rule = systems.get(identifier.system, "")
    if rule.startswith(PATTERN):
        return Identifier(identifier.system, identifier.value.translate(_BETWEEN))
    module = _module(rule)
    if module is None or not hasattr(module, "compact"):
        return identifier
    try:
        return Identifier(identifier.system, module.compact(identifier.value))
    except ValueError:
        return identifier


def _seen(value: str) -> str:
    """Without zero-width signs and marks of direction (Unicode category Cf), which come along when text is copied,
    and with decimal digits of any script as 0 to 9.
    """
    kept = (sign for sign in value if unicodedata.category(sign) != "Cf")
    return "".join(str(unicodedata.decimal(sign, sign)) for sign in kept)


def passes(identifier: Identifier, systems: Mapping[str, str]) -> bool:
    """Is this a possible number of its kind? True where the site has no check for the system."""
    name = systems.get(identifier.system, "")
    if not name:
        return True
    if name.startswith(PATTERN):
        return re.fullmatch(name.removeprefix(PATTERN), identifier.value) is not None
    module = _module(name)
    if module is None:
        return False
    try:
        module.validate(identifier.value)
    except ValueError:  # all faults of python-stdnum are such
        return False
    return True


def possible(identifier: Identifier, systems: Mapping[str, str]) -> bool:
    """May a person type this number, in canonical form? It is there, no filler, and of the form of its kind."""
    return not (is_blank(identifier.value) or is_filler(identifier.value)) and passes(identifier, systems)


def _module(name: str) -> ModuleType | None:
    """Loaded on first use: the package is large and most of it is never needed."""
    if not re.fullmatch(r"[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)*", name):
        return None
    try:
        return import_module(f"stdnum.{name}")
    except ImportError:
        return None
