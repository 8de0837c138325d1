"""One working day at the invented Larkmoor Surgery, told by the real commands and an independent record server.

Started by `examples/demo`, which makes the environment first. Everything happens in `examples/.run/day`.
"""

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from textwrap import fill
from typing import Any
from zoneinfo import ZoneInfo

from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat, PublicFormat
from rich.console import Console
from scenario import people
from scenario.exports import Drop, Export, exports
from scenario.record import RecordServer, SmartClient

HERE = Path(__file__).resolve().parent
DAY = HERE.parent / ".run" / "day"
CLIENT = "larkmoor-gateway"
PATIENCE = 50.0
"""Seconds after which a story that has not ended counts as failed."""
console = Console(highlight=False, markup=False, width=116)


def main() -> int:
    """Tell the story; 0 when every export ended as it should."""
    shutil.rmtree(DAY, ignore_errors=True)
    DAY.mkdir(parents=True)
    key, public = client_key()
    with RecordServer(DAY / "record", smart=SmartClient(CLIENT, public)) as record:
        register(record)
        config = write_settings(record, key)
        say("\nIs everything set up?  $ bp-gateway check")
        say(gateway(config, "check").stdout)
        ends = list(exports(datetime.now(ZoneInfo("Europe/London")).date()))
        with service(config):
            began = time.monotonic()
            for export in ends:
                drop(export)
            wait_for(config, ends)
            took = time.monotonic() - began
            say(f"\nAll {len(ends)} exports were settled {took:.1f} s after the first was dropped.")
        wrong = [*judge(config, record, ends)]
        tell_record(record)
        tell_held(config)
        verified = gateway(config, "audit", "verify")
        say(f"\nIs the audit log whole?  $ bp-gateway audit verify\n{verified.stdout}")
    if verified.returncode != 0:
        wrong.append("the audit log does not verify")
    return close(wrong)


def close(wrong: list[str]) -> int:
    """Say how it ended and where to look."""
    say(f"Where to look: {DAY}\n  inbox, done and held folders, settings (gateway.toml), reports/*.pdf, service.log")
    for line in wrong:
        say(f"NOT AS IT SHOULD BE: {line}")
    say("The demo failed." if wrong else "Every export ended as its story says.")
    return 1 if wrong else 0


def say(text: str) -> None:
    """Print, plainly and at once."""
    console.print(text)


def client_key() -> tuple[Path, Path]:
    """The gateway's own key for SMART Backend Services, as IT would make it once."""
    key = ec.generate_private_key(ec.SECP384R1())
    private, public = DAY / "client-key.pem", DAY / "client-key.pub.pem"
    private.touch(mode=0o600)
    private.write_bytes(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
    public.write_bytes(key.public_key().public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo))
    return private, public


def register(record: RecordServer) -> None:
    """The people whom the record knows."""
    known = [person for person in people.EVERYBODY if person.registered]
    for number, person in enumerate(known, start=1):
        record.put({**person.patient, "id": f"larkmoor-{number}"})
    say(f"The record of Larkmoor Surgery (FHIR R4) is up at {record.base} and knows {len(known)} people.")


def write_settings(record: RecordServer, key: Path) -> Path:
    """The settings of this day, from the scenario's template."""
    config = DAY / "gateway.toml"
    template = (HERE / "gateway.toml").read_text(encoding="utf-8")
    config.write_text(
        template.replace("@DAY@", str(DAY)).replace("@RECORD@", record.base).replace("@KEY@", str(key)),
        encoding="utf-8",
    )
    return config


def gateway(config: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Run one real command."""
    return subprocess.run(
        [sys.executable, "-m", "gateway", *words, "--config", str(config)],
        capture_output=True,
        text=True,
        env=clean_environment(),
        timeout=60,
        check=False,
    )


def clean_environment() -> dict[str, str]:
    """The environment without anything that belongs to another gateway."""
    return {key: value for key, value in os.environ.items() if not key.startswith("BP_GATEWAY")}


@contextmanager
def service(config: Path) -> Iterator[None]:
    """The service as a process of its own, stopped as systemd would stop it."""
    (DAY / "inbox").mkdir()
    with (DAY / "service.log").open("wb") as log:
        process = subprocess.Popen(
            [sys.executable, "-m", "gateway", "run", "--config", str(config)],
            stdout=log,
            stderr=log,
            env=clean_environment(),
        )
        try:
            wait_until_running(config, process)
            yield
        finally:
            process.send_signal(signal.SIGTERM)
            try:
                process.wait(30)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def wait_until_running(config: Path, process: subprocess.Popen[bytes]) -> None:
    """Until the service has looked at its inbox for the first time."""
    deadline = time.monotonic() + 30
    while time.monotonic() < deadline and process.poll() is None:
        if (DAY / "state" / "gateway.sqlite").exists() and status(config).get("health"):
            say("The service is running.  $ bp-gateway run\n")
            return
        time.sleep(0.1)
    raise SystemExit(f"the service did not start:\n{(DAY / 'service.log').read_text()}")


def drop(export: Export) -> None:
    """Put one export into the inbox, as its story says."""
    say(f"  {export.name:22} {export.tale} ({export.drop.value})")
    path = DAY / "inbox" / export.name
    if export.drop is Drop.WHOLE:
        path.write_bytes(export.content)
        return
    with path.open("wb") as file:
        file.write(export.content[: len(export.content) // 2])
        file.flush()
        time.sleep(3)
        file.write(export.content[len(export.content) // 2 :])


def status(config: Path) -> dict[str, Any]:
    """The service's own account, as JSON."""
    answer = gateway(config, "status", "--json")
    if not answer.stdout:
        raise SystemExit(f"bp-gateway status failed: {answer.stderr}")
    found: dict[str, Any] = json.loads(answer.stdout)
    return found


def wait_for(config: Path, ends: list[Export]) -> None:
    """Until nothing is under way any more, showing progress."""
    files = len({export.content for export in ends})
    deadline = time.monotonic() + PATIENCE
    with console.status("waiting for the gateway") as shown:
        while time.monotonic() < deadline:
            counts: Mapping[str, int] = status(config)["overview"]["recordings"]
            settled = counts.get("delivered", 0) + counts.get("held", 0)
            shown.update(f"{counts.get('delivered', 0)} delivered, {counts.get('held', 0)} held, of {files} files")
            if settled == files and not list((DAY / "inbox").iterdir()):
                return
            time.sleep(0.2)


def judge(config: Path, record: RecordServer, ends: list[Export]) -> Iterator[str]:
    """Compare how each export ended with its story; the record server is asked, not the gateway."""
    held = {item["file"]: item["reason"] for item in json.loads(gateway(config, "held", "list", "--json").stdout)}
    for export in ends:
        if export.ends == "delivered":
            assert export.who is not None
            reports = reports_of(record, export.who)
            if len(reports) != 1:
                yield f"{export.name}: the record has {len(reports)} reports for this person instead of 1"
        elif export.ends == "again":
            notes = list((DAY / "done").glob(f"{Path(export.name).stem}.*.why.txt"))
            if not notes:
                yield f"{export.name}: was not recognised as seen before"
        elif held.get(export.name) != export.ends:
            yield f"{export.name}: held for {held.get(export.name)} instead of {export.ends}"
        if export.who is not None and export.ends not in ("delivered", "again") and reports_of(record, export.who):
            yield f"{export.name}: something was filed although it is held"


def reports_of(record: RecordServer, person: people.Someone) -> list[dict[str, Any]]:
    """What the record holds for one person."""
    patients = record.search("Patient", identifier=f"{people.NHS}|{person.number}")
    return [
        report
        for patient in patients
        for report in record.search("DiagnosticReport", subject=f"Patient/{patient['id']}")
    ]


def tell_record(record: RecordServer) -> None:
    """What a clinician finds, asked from the record itself."""
    (DAY / "reports").mkdir()
    say("\nWhat the clinician finds in the record:")
    for person in people.EVERYBODY:
        for report in reports_of(record, person):
            subject = report["subject"]["reference"]
            observations = record.search("Observation", subject=subject)
            readings = sum(1 for each in observations if has_code(each, "85354-9"))
            say(f"\n  {person.given} {person.family}, born {person.born:%d %b %Y}: {report['status']} report")
            for line in report["conclusion"].splitlines():
                say(fill(line, 116, initial_indent="    ", subsequent_indent="      "))
            say(f"    {readings} single readings and {len(observations) - readings} summaries are in the chart")
            save_report(report, person)


def has_code(observation: Mapping[str, Any], code: str) -> bool:
    """Does the Observation carry this LOINC code?"""
    return any(coding.get("code") == code for coding in observation["code"]["coding"])


def save_report(report: Mapping[str, Any], person: people.Someone) -> None:
    """Lay the PDF out of the record beside the log, for whoever wants to look at it."""
    import base64

    for form in report.get("presentedForm", []):
        path = DAY / "reports" / f"{person.family.lower()}.pdf"
        path.write_bytes(base64.b64decode(form["data"]))
        say(f"    one-page report: {path}")


def tell_held(config: Path) -> None:
    """What waits for the nurse, in the words that the nurse sees."""
    say("\nWhat waits for the nurse:  $ bp-gateway held list")
    say(gateway(config, "held", "list").stdout)


if __name__ == "__main__":
    started = datetime.now(UTC)
    code = main()
    say(f"({(datetime.now(UTC) - started).total_seconds():.0f} s)")
    sys.exit(code)
