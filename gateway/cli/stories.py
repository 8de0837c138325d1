"""The state of the store, and one recording's story, in plain words."""

import json
from collections.abc import Iterator, Mapping, Sequence

from gateway.cli.chronicle import ACTS, chronicle
from gateway.model.circuit import Circuit, resting
from gateway.store import CIRCUIT, DeliveryStory, DestinationState, Health, Node, Overview, Story, Withdrawal


def overview_lines(
    overview: Overview,
    health: Mapping[str, Health],
    circuits: Mapping[str, Circuit],
    nodes: Sequence[Node] = (),
) -> Iterator[str]:
    """Counts by state, what has waited longest, each destination (and that it rests), the watcher's last look, and
    each node.
    """
    if not overview.recordings:
        yield "No recordings yet."
    for state, count in sorted(overview.recordings.items()):
        yield f"{count:6} {state}"
    if overview.oldest_waiting is not None:
        yield f"waiting since {overview.oldest_waiting:%Y-%m-%d %H:%M:%S} UTC"
    for destination in overview.destinations:
        yield _destination(destination)
        circuit = circuits.get(destination.destination)
        if circuit and circuit.until:
            yield f"  {resting(circuit)}; one is tried after {circuit.until:%H:%M:%S} UTC"
    for name, part in health.items():
        if name.startswith(CIRCUIT):
            continue
        figures = ", ".join(f"{key} {value}" for key, value in part.detail.items())
        yield f"{name}: {part.at:%Y-%m-%d %H:%M:%S} UTC" + (f" ({figures})" if figures else "")
    for node in nodes:
        yield f"node {node.name}: {_node(node)}, {node.software}"


def node_facts(node: Node) -> dict[str, object]:
    """One node, for monitoring."""
    seconds = round(max(0.0, node.silent.total_seconds()), 1)
    return {
        "name": node.name,
        "software": node.software,
        "began": node.began,
        "alive": node.alive,
        "stopped": node.stopped,
        "silent_seconds": seconds,
    }


def _node(node: Node) -> str:
    seen = f"last seen {max(0.0, node.silent.total_seconds()):.0f} s ago"
    if node.stopped:
        return f"stopped ({seen})"
    return f"works ({seen})" if node.alive else f"silent, probably gone ({seen}); its work passes on by itself"


def _destination(state: DestinationState) -> str:
    last = f"last {state.last_delivered:%Y-%m-%d %H:%M:%S} UTC" if state.last_delivered else "none yet"
    due = f", next try {state.next_due:%H:%M:%S} UTC" if state.next_due else ""
    return f"to {state.destination}: {state.done} delivered ({last}), {state.waiting} waiting{due}, {state.held} held"


def story_lines(story: Story, comparison: Sequence[str] = ()) -> Iterator[str]:
    """From file to record, with who decided what, and the result beside earlier ones."""
    yield f"recording {story.recording_id}: {story.shown}"
    if story.superseded_by is not None:
        yield f"another file of this recording counts: {story.superseded_by[:8]}"
    yield f"file {story.name}, received {story.received_at:%Y-%m-%d %H:%M:%S} UTC, SHA-256 {story.sha256}"
    if story.hold is not None:
        yield f"held: {story.hold.sentence} What to do: {story.hold.action}"
    for delivery in story.deliveries:
        yield from _delivery(delivery)
    for taken_back in story.withdrawals:
        yield from _withdrawal(taken_back)
    for sentence in comparison:
        yield f"compared: {sentence}"
    yield from chronicle(story.events, story.decisions)


def _delivery(delivery: DeliveryStory) -> Iterator[str]:
    entry = f", {delivery.patient}" if delivery.patient else ""
    tries = "1 attempt" if delivery.attempt == 1 else f"{delivery.attempt} attempts"
    yield f"to {delivery.destination}: {ACTS[delivery.act]} {delivery.state} after {tries}{entry}"
    if delivery.hold is not None:
        yield f"  held: {delivery.hold.sentence} What to do: {delivery.hold.action}"
    if delivery.answer:
        yield f"  the record's answer: {delivery.answer}"


def _withdrawal(taken_back: Withdrawal) -> Iterator[str]:
    far = "every record has given it back" if taken_back.finished else "NOT every record has given it back yet"
    yield f"withdrawn by {taken_back.by} on {taken_back.at:%Y-%m-%d %H:%M} UTC: {taken_back.why}; {far}"
    if taken_back.acknowledged_by and taken_back.acknowledged_at:
        when = f"{taken_back.acknowledged_at:%Y-%m-%d %H:%M} UTC"
        yield f"  its notice was acknowledged by {taken_back.acknowledged_by} on {when}"
    else:
        yield "  its notice to the clinicians is not acknowledged yet (`retract notice`, `retract acknowledge`)"


def comparison_of(facts: bytes | None) -> list[str]:
    """Sentences on earlier recordings of the person, from stored facts; empty where there are none."""
    told = json.loads(facts) if facts else {}
    return list((told.get("summary") or {}).get("comparison", ()))
