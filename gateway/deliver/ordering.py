"""Which order on the server asked for this recording? An order that an earlier result fulfilled is not used again.

As with persons, the server's search is only a proposal: what it returns is compared here, and an answer that holds
something else than was asked for ends the attempt.
"""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace

from gateway import fhir
from gateway.deliver.stopped import rejected
from gateway.deliver.talk import Talk, escaped
from gateway.fhir.orders import Order, order, order_number
from gateway.model import HoldReason
from gateway.settings.ordering import OrderChoice

AS_EXPORTED = "as-exported"
"""Decided: the number in the export stands, as the server knows no such order."""
WITHOUT = ""
"""Decided: filed without an order."""
OTHER_RULE, NONE_RULE, SEVERAL_RULE = "order-of-other", "order-none", "order-several"


def none_taken(_: Collection[str]) -> frozenset[str]:
    """For callers that remember no earlier results."""
    return frozenset()


def forget(_: str) -> None:
    """For callers that keep nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Remembered:
    """What is known of orders from before. `chosen`: what was decided for this recording here, None for nothing yet;
    it stands, as a result that was half written must not change its order. `taken`: which of these orders other
    recordings were filed for. `keep` is told what was decided, before anything is written.
    """

    chosen: str | None = None
    taken: Callable[[Collection[str]], frozenset[str]] = none_taken
    keep: Callable[[str], None] = forget


def ordered(
    talk: Talk,
    choice: OrderChoice,
    parcel: fhir.Parcel,
    link: fhir.PatientLink,
    remembered: Remembered,
    waived: frozenset[str],
) -> fhir.PatientLink:
    """The link with the order that asked for the recording. Raises Stopped with a hold where a person must decide."""
    chosen = remembered.chosen
    if chosen is None:
        sought = _Sought(choice, frozenset(filter(None, [link.reference, link.replaced])), remembered, waived)
        if named := order_number(parcel.resources):
            chosen = _named(_by_number(talk, choice, named), sought)
        else:
            chosen = _only(_open(talk, choice, sought.subjects), sought)
        remembered.keep(chosen)
    return replace(link, order=as_linked(chosen))


def as_linked(chosen: str | None) -> str | None:
    """What was decided, as `fhir.PatientLink.order`."""
    return None if chosen == AS_EXPORTED else chosen


@dataclass(frozen=True, slots=True)
class _Sought:
    """`subjects`: the person's entries in the record."""

    choice: OrderChoice
    subjects: frozenset[str]
    remembered: Remembered
    waived: frozenset[str]

    def unused(self, found: Sequence[Order]) -> list[Order]:
        """Those that are open, for this procedure, and that no other recording was filed for."""
        usable = [each for each in found if each.open and each.codes & self.choice.pairs()]
        taken = self.remembered.taken([each.reference for each in usable])
        return [each for each in usable if each.reference not in taken]

    def none(self, detail: str) -> str:
        """No order: without one, or a hold."""
        if self.choice.none == "hold" and NONE_RULE not in self.waived:
            raise rejected(HoldReason.ORDER_NONE, detail, rule=NONE_RULE)
        return WITHOUT

    def several(self, count: int) -> str:
        """More than one order: without one, or a hold."""
        if self.choice.several == "hold" and SEVERAL_RULE not in self.waived:
            raise rejected(HoldReason.ORDER_SEVERAL, f"{count} are open", rule=SEVERAL_RULE)
        return WITHOUT


def _named(found: Sequence[Order], sought: _Sought) -> str:
    """`found`: orders with the number that the export has. Somebody else's is a sign of a wrong person."""
    own = [each for each in found if each.subject in sought.subjects]
    if found and not own:
        if OTHER_RULE not in sought.waived:
            raise rejected(HoldReason.ORDER_OF_OTHER, rule=OTHER_RULE)
        return WITHOUT
    left = sought.unused(own)
    if left:
        return left[0].reference if len(left) == 1 else sought.several(len(left))
    if own:
        return sought.none("the one that the file names is done, used, or for something else")
    return sought.none("the number that the file names is not known") or AS_EXPORTED


def _only(found: Sequence[Order], sought: _Sought) -> str:
    left = sought.unused(found)
    if not left:
        return sought.none("")
    return left[0].reference if len(left) == 1 else sought.several(len(left))


def _by_number(talk: Talk, choice: OrderChoice, number: str) -> list[Order]:
    token = escaped(number) if not choice.system else f"{escaped(choice.system)}|{escaped(number)}"
    found = []
    for each in _asked(talk, ("identifier", token)):
        ours = {value for system, value in each.numbers if choice.system in ("", system)}
        if number.casefold() not in {value.casefold() for value in ours}:
            raise rejected(HoldReason.RECORD_UNSUITABLE, "a search for orders found one without the number")
        if number in ours:  # a server that folds case may find another one
            found.append(each)
    return found


def _open(talk: Talk, choice: OrderChoice, subjects: frozenset[str]) -> list[Order]:
    """Active orders for this procedure; a person who was merged may have some under either entry."""
    codes = ",".join(f"{escaped(system)}|{escaped(code)}" for system, code in sorted(choice.pairs()))
    found = {}
    for subject in sorted(subjects):
        for each in _asked(talk, ("patient", subject), ("status", "active"), ("code", codes)):
            if each.subject != subject or each.status != "active" or not each.codes & choice.pairs():
                raise rejected(HoldReason.RECORD_UNSUITABLE, "a search for orders found one that was not asked for")
            found[each.id] = each
    return list(found.values())


def _asked(talk: Talk, *parameters: tuple[str, str]) -> list[Order]:
    bodies = talk.search(fhir.Search("ServiceRequest", parameters))
    read = [order(body, talk.base) for body in bodies]
    if any(each is None for each in read):
        raise rejected(HoldReason.RECORD_UNSUITABLE, "a search for orders found something else")
    return [each for each in read if each is not None]
