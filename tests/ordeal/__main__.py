"""The ordeal: recordings, workers killed without warning, faults of every kind; at the end, is everything there once?

    ./tests/run --ordeal 2000 --kills 500                                   SQLite, two workers that stand by
    ./tests/run --ordeal 2000 --kills 500 --database postgresql --nodes 3

People, files and faults follow from --seed; the moments of the kills also from the speed of the machine.
"""

import argparse
import random
import signal
import sys
import tempfile
import time
from collections import deque
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from datetime import datetime
from pathlib import Path

from scenario.days import LONDON
from scenario.record import RecordServer

from tests.databases import KINDS, Place
from tests.ordeal.files import everybody, files
from tests.ordeal.reckoning import Reckoning, reckon
from tests.ordeal.trial import Trial
from tests.ordeal.weather import Weather
from tests.ordeal.workers import FORKS, PRELOAD, Worker, a_worker
from tests.postgres import Postgres


def main() -> int:
    wanted = arguments()
    seed = wanted.seed if wanted.seed is not None else random.randrange(1_000_000)
    folder = Path(tempfile.mkdtemp(prefix="bp-ordeal-"))
    print(f"ordeal of {wanted.recordings} recordings on {wanted.database}, seed {seed}, in {folder}", flush=True)
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # servers and workers end with it
    FORKS.set_forkserver_preload(PRELOAD)
    begun = time.monotonic()
    with ExitStack() as stack:
        trial = prepared(wanted, seed, folder, stack)
        trial.run()
        found = reckon(trial.dropped, trial.place, trial.record)
        whole = audits_whole(trial.workers)
    left = sorted(str(file) for worker in trial.workers for file in worker.inbox.glob("[0-9]*"))
    found.lost += [f"{file} was left in the inbox" for file in left]
    print("\n".join(account(wanted, trial, found, whole, time.monotonic() - begun)), flush=True)
    for sentence in (*found.lost, *found.doubled):
        print(f"  {sentence}")
    return 0 if whole and not found.lost and not found.doubled else 1


def arguments() -> argparse.Namespace:
    described = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser(prog="tests/run --ordeal", description=__doc__, formatter_class=described)
    parser.add_argument("recordings", type=int)
    parser.add_argument("--kills", type=int, help="kill -9 so often (default: a quarter of the recordings)")
    parser.add_argument("--database", choices=KINDS, default="sqlite")
    parser.add_argument("--nodes", type=int, default=1, help="nodes that share the store (postgresql)")
    parser.add_argument("--seed", type=int)
    parser.add_argument("--minutes", type=float, help="drop no more files after so long, and settle what came in")
    wanted = parser.parse_args()
    if wanted.database == "sqlite" and wanted.nodes > 1:
        parser.error("SQLite serves one node only")
    if wanted.kills is None:
        wanted.kills = wanted.recordings // 4
    return wanted


def prepared(wanted: argparse.Namespace, seed: int, folder: Path, stack: ExitStack) -> Trial:
    chance = random.Random(seed)
    record = stack.enter_context(RecordServer(folder / "record"))
    people = everybody(max(2, wanted.recordings * 9 // 10))
    for number, who in enumerate(each for each in people if each.registered):
        record.put({**who.patient, "id": f"ordeal-{number}"})
    weather = stack.enter_context(Weather(record.base, random.Random(seed + 1)))
    server = stack.enter_context(Postgres()) if wanted.database == "postgresql" else None
    place = Place(server.place() if server else str(folder / "state-1" / "gateway.sqlite"))
    workers = arrayed(folder, weather.base, place, wanted.nodes)
    stack.enter_context(no_worker_left(workers))

    def restart_database() -> None:
        assert server is not None
        server.stop()
        time.sleep(chance.uniform(0, 3))
        server.start()

    return Trial(
        workers=workers,
        place=place,
        record=record,
        weather=weather,
        files=deque(files(people, wanted.recordings, chance, datetime.now(LONDON).date())),
        kills_wanted=wanted.kills,
        chance=chance,
        say=lambda words: print(f"{datetime.now(LONDON):%H:%M:%S}  {words}", flush=True),
        restart_database=restart_database if server else None,
        feed_until=time.monotonic() + wanted.minutes * 60 if wanted.minutes else None,
        dies_for_good=workers[1] if wanted.nodes > 2 else None,
    )


def arrayed(folder: Path, record: str, place: Place, nodes: int) -> list[Worker]:
    """On SQLite two workers of one state folder, of which one stands by. On PostgreSQL the first two nodes share an
    inbox, each other node has its own; one of the two will die for good.
    """
    if not place.on_server:
        return [a_worker(folder, f"worker-{n}", "state-1", "inbox", record, "", 40) for n in (1, 2)]
    store = f'url = "{place.address}"\nnodes = {nodes}'
    workers = []
    for number in range(1, nodes + 1):
        inbox = "inbox-1" if number <= 2 else f"inbox-{number}"
        workers.append(a_worker(folder, f"node-{number}", f"state-{number}", inbox, record, store, 20 * number))
    share_key([folder / f"state-{number}" for number in range(1, nodes + 1)])
    return workers


def share_key(states: list[Path]) -> None:
    """As the guide for several nodes says: all sign with the key of the first."""
    from gateway.service.sealing import KEY_FILE, signing_key

    for state in states:
        state.mkdir(mode=0o700)
    signing_key(states[0])
    for state in states[1:]:
        (state / KEY_FILE).touch(0o600)
        (state / KEY_FILE).write_bytes((states[0] / KEY_FILE).read_bytes())


@contextmanager
def no_worker_left(workers: list[Worker]) -> Iterator[None]:
    try:
        yield
    finally:
        for worker in workers:
            if worker.alive:
                worker.kill()


def audits_whole(workers: list[Worker]) -> bool:
    """`audit verify`, with the heads that each node wrote outside the store."""
    import subprocess

    good = True
    for worker in workers:
        words = [sys.executable, "-m", "gateway", "audit", "verify", "--config", str(worker.config)]
        done = subprocess.run(words, capture_output=True, text=True, timeout=600)
        good &= done.returncode == 0
        if done.returncode:
            print(done.stdout, done.stderr)
    return good


def account(wanted: argparse.Namespace, trial: Trial, found: Reckoning, whole: bool, seconds: float) -> Iterator[str]:
    """The printout."""
    counts = trial.counts
    yield f"ordeal on {wanted.database}, {len(trial.workers)} processes, {seconds:.0f} s"
    yield f"recordings in     {found.recordings} ({found.files} files, {found.repeated} of them repeated)"
    yield f"delivered         {found.delivered}"
    yield f"held              {found.held} (rightly: changed, damaged, person unknown)"
    yield f"lost              {len(found.lost)}"
    yield f"doubled           {len(found.doubled)}"
    yield f"audit whole       {'yes' if whole else 'NO'}"
    yield f"kills             {counts.kills}"
    yield f"faults played     {sum(trial.weather.played.values())} of {len(trial.weather.played)} kinds"
    restarts = f"{counts.server_restarts} of the record server, {counts.database_restarts} of the database"
    yield f"restarts          {restarts}"
    yield f"released          {counts.releases} held by the trouble, by a person"
    yield f"in the record     {found.resources} reports and observations, {found.rewritten} of them written again"


if __name__ == "__main__":
    sys.exit(main())
