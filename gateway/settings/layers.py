"""Settings file < credential files < environment, merged key by key and only then checked.

A key of the file can be given in the environment: `site.timezone` is BP_GATEWAY__SITE__TIMEZONE, and the address of
the destination named `record` is BP_GATEWAY__DESTINATIONS__RECORD__URL. A credential file in
$CREDENTIALS_DIRECTORY (systemd's LoadCredential=) is named like its key and holds the value; where the key wants a
file, as `destinations.record.auth.token_file` does, it is that file. Lists and tables are written as JSON.

The merging is our own: the usual library passes over a misspelt variable in silence and cannot reach one entry of a
list, and both would leave out what somebody believes to have set.
"""

import json
import tomllib
from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from gateway.errors import SettingsError
from gateway.settings.sections import Settings
from gateway.settings.words import Place, problems_of

PREFIX = "BP_GATEWAY__"
CREDENTIALS = "CREDENTIALS_DIRECTORY"
LIST = "destinations"
LARGEST = 64 * 1024

Given = tuple[Place, str, str]
"""where a value belongs, the value, and what to call its origin in a message"""


def load(path: Path | None, environ: Mapping[str, str]) -> Settings:
    """Read and check all settings. Raises SettingsError with every problem at once; secrets are never shown.

    `path` None: only what credential files and environment say. Relative paths start at the file's folder.
    """
    problems: list[str] = []
    data = _file(path) if path else {}
    origins: dict[Place, str] = {}
    for place, value, origin in (*_credentials(environ, problems), *_environment(environ)):
        if problem := _put(data, place, _read(value)):
            problems.append(f"{origin}: {problem}")
        else:
            origins[_normal(place)] = origin
    try:
        settings = Settings.model_validate(_anchored(data, path.resolve().parent if path else Path.cwd(), environ))
    except ValidationError as error:
        raise SettingsError([*problems, *problems_of(error, data, origins)]) from None
    if problems:
        raise SettingsError(problems)
    return settings


def _file(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except OSError as error:
        problem = f"cannot be read ({error.strerror}); name the settings file with --config"
    except UnicodeDecodeError:
        problem = "is not UTF-8 text; save it as UTF-8"
    except tomllib.TOMLDecodeError as error:
        problem = f"is not TOML: {error}"
    raise SettingsError([f"{path}: {problem}"])


def _environment(environ: Mapping[str, str]) -> Iterator[Given]:
    for name in sorted(environ):
        if name.startswith(PREFIX):
            yield tuple(part.lower() for part in name.removeprefix(PREFIX).split("__")), environ[name], name


def _credentials(environ: Mapping[str, str], problems: list[str]) -> Iterator[Given]:
    """Files whose name begins with a section. Other files there belong to keys that name a file."""
    folder = environ.get(CREDENTIALS)
    if not folder:
        return
    try:
        files = sorted(file for file in Path(folder).iterdir() if "." in file.name and file.is_file())
    except OSError as error:
        problems.append(f"${CREDENTIALS}: cannot be read ({error.strerror})")
        return
    for file in files:
        place = tuple(file.name.split("."))
        origin = f"credential file {file.name}"
        if place[0] not in Settings.model_fields:
            if near := get_close_matches(place[0], Settings.model_fields, n=1, cutoff=0.85):
                problems.append(f"{origin}: did you mean '{'.'.join((near[0], *place[1:]))}'?")
            continue
        try:
            yield place, str(file) if place[-1].endswith("_file") else _line(file), origin
        except OSError as error:
            problems.append(f"{origin}: cannot be read ({error.strerror}); let the service's account read it")
        except UnicodeDecodeError:
            problems.append(f"{origin}: is not UTF-8 text")


def _line(file: Path) -> str:
    with file.open("rb") as opened:
        return opened.read(LARGEST).decode().rstrip("\r\n")


def _read(value: str) -> Any:
    """JSON for lists and tables; everything else stays text, which the checks turn into numbers and so on."""
    if value[:1] in ("{", "["):
        try:
            return json.loads(value)
        except ValueError:
            return value
    return value


def _put(data: dict[str, Any], place: Place, value: Any) -> str:
    """Set one value, making the tables on the way. Returns what is wrong, "" when it was set."""
    at: Any = data
    for index, part in enumerate(place[:-1]):
        if at is data and part == LIST and len(place) > 2:
            return _put_in_destination(data.setdefault(LIST, []), place[1:], value)
        at = at.setdefault(part, {})
        if not isinstance(at, dict):
            return f"'{'.'.join(place[: index + 1])}' is a value, not a section; see deploy/gateway.toml"
    at[place[-1]] = value
    return ""


def _put_in_destination(listed: Any, place: Place, value: Any) -> str:
    if not isinstance(listed, list) or not all(isinstance(entry, dict) for entry in listed):
        return "destinations in the file must be tables, each headed [[destinations]]"
    named = {_plain(str(entry.get("name", ""))): entry for entry in listed}
    entry = named.get(_plain(place[0]))
    if entry is None:
        if near := get_close_matches(_plain(place[0]), named, n=1):
            return f"no destination is named '{place[0]}'; did you mean '{named[near[0]]['name']}'?"
        entry = {"name": place[0].replace("_", "-")}
        listed.append(entry)
    return _put(entry, place[1:], value)


def _normal(place: Place) -> Place:
    return (LIST, _plain(place[1]), *place[2:]) if place[0] == LIST and len(place) > 2 else place


def _plain(name: str) -> str:
    """Names of variables know no hyphen and no small letters."""
    return name.lower().replace("-", "_")


def _anchored(data: dict[str, Any], folder: Path, environ: Mapping[str, str], key: Place = ()) -> dict[str, Any]:
    """A copy whose relative paths start at the settings file's folder, never at the working folder of the process."""

    def anchored(name: str, value: Any) -> Any:
        if isinstance(value, dict):
            return _anchored(value, folder, environ, (*key, name))
        if isinstance(value, list):
            return [anchored(name, entry) for entry in value]
        if isinstance(value, str) and (name.endswith("_file") or (*key, name)[0] == "folders" or name == "folder"):
            credentials = environ.get(CREDENTIALS)
            return str(folder / (value.replace(f"${CREDENTIALS}", credentials, 1) if credentials else value))
        return value

    return {name: anchored(name, value) for name, value in data.items()}
