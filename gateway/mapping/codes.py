"""Code systems and the concepts that we file, as data: which codings say a thing, and how sure each of them is."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from pydantic import Field

from gateway.errors import MappingError
from gateway.mapping.parse import Declared, parse

CONCEPTS = "concepts.toml"
"""Name of the files that hold concepts; every other file of `mappings/codes` holds one code system."""


class CodeStanding(StrEnum):
    """`verified`: code and name seen together in a source. `inferred`: derived, never sent. `own`: ours."""

    VERIFIED = "verified"
    INFERRED = "inferred"
    OWN = "own"


class Code(Declared):
    """One code. `citation` says where code and name were seen together."""

    code: str = Field(pattern=r"^\S+( \S+)*$")
    display: str = Field(min_length=1)
    standing: CodeStanding
    citation: str = Field(min_length=3)
    note: str = ""
    also: tuple[str, ...] = ()
    """Other ways in which a profile writes the display (units)."""


class CodeSystemFile(Declared):
    """One code system. `licensed`: codes are sent only where the site holds a licence."""

    id: str = Field(pattern=r"^[a-z][a-z0-9-]*$")
    system: str = Field(pattern=r"^(https?://|urn:)\S+$")
    title: str
    notice: str = ""
    licensed: bool = False
    codes: tuple[Code, ...] = Field(min_length=1)


class Concept(Declared):
    """What we say: a telling text and codings as "system-id:code", most general first."""

    text: str = Field(min_length=1)
    codings: tuple[str, ...] = ()


class ConceptFile(Declared):
    """Concepts by name."""

    concepts: dict[str, Concept]


@dataclass(frozen=True, slots=True)
class Coding:
    """One code as it is sent."""

    system: str
    code: str
    display: str


@dataclass(frozen=True, slots=True)
class Meaning:
    """A concept ready to be sent: its text and those codings that may be sent."""

    text: str
    codings: tuple[Coding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Codes:
    """All code systems and concepts of this installation."""

    systems: Mapping[str, CodeSystemFile]
    concepts: Mapping[str, Concept]

    def meaning(self, concept: str, licensed: bool) -> Meaning:
        """Text and codings of a concept. Codes that are not verified, or not licensed, are left out.

        Raises KeyError for a concept that no file declares.
        """
        declared = self.concepts[concept]
        pairs = (self._find(name) for name in declared.codings)
        return Meaning(
            declared.text,
            tuple(
                Coding(system.system, code.code, code.display)
                for system, code in pairs
                if code.standing is not CodeStanding.INFERRED and (licensed or not system.licensed)
            ),
        )

    def coding(self, name: str) -> Coding:
        """One coding by "system-id:code". Raises KeyError when it is unknown or may not be sent."""
        system, code = self._find(name)
        if code.standing is CodeStanding.INFERRED:
            raise KeyError(name)
        return Coding(system.system, code.code, code.display)

    def approved(self) -> Mapping[tuple[str, str], str]:
        """Every (system, code) that may be sent, with its display."""
        return {
            (system.system, code.code): code.display
            for system in self.systems.values()
            for code in system.codes
            if code.standing is not CodeStanding.INFERRED
        }

    def spellings(self) -> frozenset[tuple[str, str]]:
        """Every (code, other way of writing it)."""
        return frozenset(
            (code.code, text) for system in self.systems.values() for code in system.codes for text in code.also
        )

    def _find(self, name: str) -> tuple[CodeSystemFile, Code]:
        system_id, _, code = name.partition(":")
        system = self.systems[system_id]
        return system, next(item for item in system.codes if item.code == code)


def gather(files: Mapping[str, bytes]) -> Codes:
    """Read all files of `mappings/codes`, a site's files after ours: name (path for messages) -> content.

    A later file of the same system adds codes and replaces those of the same code; a later concept replaces an
    earlier one. Raises MappingError with every problem at once.
    """
    systems: dict[str, CodeSystemFile] = {}
    concepts: dict[str, Concept] = {}
    problems: list[str] = []
    for name, content in files.items():
        try:
            if name.endswith(CONCEPTS):
                concepts |= parse(content, ConceptFile, name).concepts
            else:
                file = parse(content, CodeSystemFile, name)
                systems[file.id] = _merged(systems.get(file.id), file)
        except MappingError as error:
            problems += error.problems
    problems += _dangling(systems, concepts)
    if problems:
        raise MappingError(problems)
    return Codes(systems=systems, concepts=concepts)


def _merged(earlier: CodeSystemFile | None, later: CodeSystemFile) -> CodeSystemFile:
    kept = {code.code: code for code in earlier.codes} if earlier else {}
    kept |= {code.code: code for code in later.codes}
    return later.model_copy(update={"codes": tuple(kept.values())})


def _dangling(systems: Mapping[str, CodeSystemFile], concepts: Mapping[str, Concept]) -> Iterator[str]:
    known = {f"{system.id}:{code.code}" for system in systems.values() for code in system.codes}
    for name, concept in concepts.items():
        for coding in concept.codings:
            if coding not in known:
                yield f"concept '{name}': no code system declares '{coding}'{_close(coding, sorted(known))}"


def _close(coding: str, known: Sequence[str]) -> str:
    code = coding.partition(":")[2]
    same = [name for name in known if name.partition(":")[2] == code]
    return f"; did you mean '{same[0]}'?" if same else ""
