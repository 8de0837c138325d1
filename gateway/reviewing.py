"""Nothing is filed unseen, where the site wants that: a clinician's sign-off before the result goes out."""

from collections.abc import Iterable
from dataclasses import replace

from gateway.intake import Considered, Tools
from gateway.model import Hold, HoldReason, Waiver

SIGN_OFF_RULE = "signed-off"


def held_for_review(considered: Considered, tools: Tools, waivers: Iterable[Waiver]) -> Considered:
    """The last question of all, so that whoever signs sees a result that nothing else stands against."""
    if considered.hold is not None or not tools.sign_off_first or signature(waivers) is not None:
        return considered
    return replace(considered, hold=Hold(reason=HoldReason.NOT_SIGNED_OFF, rule=SIGN_OFF_RULE))


def signature(waivers: Iterable[Waiver]) -> Waiver | None:
    """Who signed the result off, the last one if there were several; None while nobody did."""
    signed = [waiver for waiver in waivers if waiver.rule == SIGN_OFF_RULE]
    return max(signed, key=lambda waiver: waiver.at) if signed else None
