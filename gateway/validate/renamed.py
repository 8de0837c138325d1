"""Whose recording it is by a named person's word, where the export names the wrong one."""

from dataclasses import replace

from gateway.model import Finding, Person, Recording, Severity
from gateway.model.phrase import Phrase


def renamed(recording: Recording, given: Person) -> Recording:
    """The recording as one of the person with the given number; everything about it is examined as if the file said
    so. With a birth date it is another person, and nothing that the file says of the person is kept; without one it
    is the same person with a number that was mistyped.
    """
    person = given if given.birth_date else replace(recording.person, identifier=given.identifier)
    return replace(recording, person=person)


def renaming() -> Finding:
    """It stands beside the result; the numbers stand in the audit log and in `status`."""
    return Finding(
        rule="person-renamed",
        severity=Severity.NOTE,
        sentence=Phrase("The export named another number; a named person put it right."),
    )
