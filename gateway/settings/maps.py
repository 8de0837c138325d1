"""The shipped mapping files with the site's own laid over them.

A wheel carries `mappings/` as `gateway/_mappings`; a checkout has it beside the package. A site's folder has the same
folders in it; a file there adds, or replaces the shipped one of the same id.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import TypeVar

from gateway.errors import MappingError
from gateway.mapping.codes import Codes, gather
from gateway.mapping.guideline import Guideline
from gateway.mapping.language import ENGLISH, Language
from gateway.mapping.limits import ReadingLimits
from gateway.mapping.parse import parse
from gateway.mapping.profile import Profile
from gateway.mapping.source import SourceMap

PACKAGE = Path(__file__).resolve().parent.parent
FOLDERS = ("sources", "codes", "guidelines", "limits", "profiles", "words")


Kind = TypeVar("Kind", bound=SourceMap | Guideline | ReadingLimits | Profile | Language)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mappings:
    """Everything that the declarative files say, by id.

    `folders`: where it came from, the shipped folder first. `origins`: the file that each id was taken from, as
    "guidelines/esc-2024" -> path.
    """

    sources: Mapping[str, SourceMap]
    codes: Codes
    guidelines: Mapping[str, Guideline]
    limits: Mapping[str, ReadingLimits]
    profiles: Mapping[str, Profile]
    languages: Mapping[str, Language]
    folders: tuple[Path, ...]
    origins: Mapping[str, Path]


def shipped_folder() -> Path:
    """Where the mappings that come with this package lie. Raises MappingError when they are not there."""
    for folder in (PACKAGE / "_mappings", PACKAGE.parent / "mappings"):
        if folder.is_dir():
            return folder
    raise MappingError([f"{PACKAGE}: the shipped mappings are missing; install the package again"])


def load(site_folder: Path | None) -> Mappings:
    """Read every mapping file, the shipped ones first, then the site's. Raises MappingError with every fault of every
    file at once.
    """
    folders = (shipped_folder(), *((site_folder,) if site_folder else ()))
    problems = list(_misplaced(site_folder)) if site_folder else []
    origins: dict[str, Path] = {}
    if problems and site_folder and not site_folder.is_dir():
        raise MappingError(problems)

    def all_of(kind: str, model: type[Kind]) -> dict[str, Kind]:
        return _read_all(kind, lambda content, name: parse(content, model, name), folders, origins, problems)

    sources = all_of("sources", SourceMap)
    guidelines, limits = all_of("guidelines", Guideline), all_of("limits", ReadingLimits)
    profiles = all_of("profiles", Profile)
    languages = {ENGLISH.id: ENGLISH} | all_of("words", Language)
    codes = _codes(folders, problems)
    if problems or codes is None:
        raise MappingError(problems)
    return Mappings(
        sources=sources,
        codes=codes,
        guidelines=guidelines,
        limits=limits,
        profiles=profiles,
        languages=languages,
        folders=folders,
        origins=origins,
    )


def _read_all(
    kind: str,
    read: Callable[[bytes, str], Kind],
    folders: tuple[Path, ...],
    origins: dict[str, Path],
    problems: list[str],
) -> dict[str, Kind]:
    found: dict[str, Kind] = {}
    for folder in folders:
        here: dict[str, Path] = {}
        for path in _files(folder / kind):
            try:
                item = read(path.read_bytes(), str(path))
            except MappingError as error:
                problems += error.problems
                continue
            except OSError as error:
                problems.append(f"{path}: cannot be read ({error.strerror})")
                continue
            key = _key(item)
            if key in here:
                problems.append(f"{path}: the id '{key}' is also in {here[key].name}; give each file its own")
            here[key] = path
            found[key] = item
        origins |= {f"{kind}/{name}": path for name, path in here.items()}
    return found


def _key(item: SourceMap | Guideline | ReadingLimits | Profile | Language) -> str:
    return item.name if isinstance(item, SourceMap) else item.id


def _codes(folders: tuple[Path, ...], problems: list[str]) -> Codes | None:
    contents: dict[str, bytes] = {}
    for folder in folders:
        for path in _files(folder / "codes"):
            try:
                contents[str(path)] = path.read_bytes()
            except OSError as error:
                problems.append(f"{path}: cannot be read ({error.strerror})")
    try:
        return gather(contents)
    except MappingError as error:
        problems += error.problems
    return None


def _files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.glob("*.toml") if not path.name.startswith("."))


def _misplaced(site_folder: Path) -> Iterator[str]:
    """What lies in the site's folder where nobody would ever look."""
    try:
        entries = sorted(site_folder.iterdir())
    except OSError as error:
        yield f"mappings.folder: {site_folder} cannot be listed ({error.strerror})"
        return
    for entry in entries:
        if entry.is_dir() and entry.name not in FOLDERS and not entry.name.startswith("."):
            close = get_close_matches(entry.name, FOLDERS, n=1)
            hint = f"did you mean '{close[0]}'?" if close else f"known: {', '.join(FOLDERS)}"
            yield f"{entry}: no folder of this name is read; {hint}"
        elif entry.suffix == ".toml":
            yield f"{entry}: lies outside the folders that are read ({', '.join(FOLDERS)}); move it into one"
