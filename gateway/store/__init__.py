"""The only SQL: originals, recordings, outbox, ledger, decisions, audit trail.

Start at `store.py`. The four transactions: T1 `receive`, T2 `finish_intake`, T3 `claim_delivery`, T4 `answer`.
"""

from gateway.store.anchor import outside_heads
from gateway.store.circuits import CIRCUIT
from gateway.store.correcting import Decider, Original, Renewed
from gateway.store.done import DoneDelivery
from gateway.store.nodes import Node
from gateway.store.store import Store
from gateway.store.traces import TraceClaim
from gateway.store.values import (
    Correcting,
    DeliveryClaim,
    Detail,
    Expected,
    HeldIntake,
    IntakeClaim,
    KnownRecording,
    Latest,
    Neighbour,
    NewDelivery,
    NewExpected,
    Question,
    ReadyIntake,
    Receipt,
    Standing,
    Withdrawn,
)
from gateway.store.views import (
    Ambiguous,
    Counts,
    Decided,
    Decision,
    DeliveryStory,
    DestinationState,
    Health,
    HeldItem,
    HeldKind,
    NotFound,
    NotPossible,
    Overview,
    Story,
    Withdrawal,
)

__all__ = [
    "CIRCUIT",
    "Ambiguous",
    "Correcting",
    "Counts",
    "Decided",
    "Decider",
    "Decision",
    "DeliveryClaim",
    "DeliveryStory",
    "DestinationState",
    "Detail",
    "DoneDelivery",
    "Expected",
    "Health",
    "HeldIntake",
    "HeldItem",
    "HeldKind",
    "IntakeClaim",
    "KnownRecording",
    "Latest",
    "Neighbour",
    "NewDelivery",
    "NewExpected",
    "Node",
    "NotFound",
    "NotPossible",
    "Original",
    "Overview",
    "Question",
    "ReadyIntake",
    "Receipt",
    "Renewed",
    "Standing",
    "Store",
    "Story",
    "TraceClaim",
    "Withdrawal",
    "Withdrawn",
    "outside_heads",
]
