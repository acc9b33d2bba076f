"""Shared: Hypothesis profiles, small logs and orders, the command line, a browser."""

import functools
import gc
import importlib.metadata
import os
import shutil
import sys
import tempfile
from datetime import UTC, datetime
from functools import partialmethod
from importlib.resources import files
from pathlib import Path

import hypothesis
import pytest
import sampling
from page_hosts import CHROMIUM

from auditkit.bench.kind import TestKind
from auditkit.cli import main
from auditkit.log.ledger import Ledger
from auditkit.log.recording import Recorded
from auditkit.log.sealing import Writer
from auditkit.order.catalogue import Catalogue
from auditkit.order.events import RepairOrder
from auditkit.order.findings import Problem
from auditkit.order.judgement import Judgement
from auditkit.order.record import Record
from auditkit.order.rule import Parameters, Rule, rule
from auditkit.plugin import hookimpl
from auditkit.plugin.loading import load_catalogue
from auditkit.proof import ed25519
from auditkit.proof.keys import PrivateKey
from auditkit.reader import packing

EXAMPLES = 5000 if sampling.ALL else 100 if sampling.CI else 10
hypothesis.settings.register_profile(
    "seeded", max_examples=EXAMPLES, deadline=None, print_blob=True
)
hypothesis.settings.load_profile("seeded")

PASSPHRASE = b"a passphrase for tests"


IN_MEMORY = Path("/dev/shm")  # noqa: S108  of Linux; on a disk, waiting is half
ROOM = 4 * 2**30  # bytes; the tests hold a fifth of it at most
if (
    "TMPDIR" not in os.environ
    and IN_MEMORY.is_dir()
    and shutil.disk_usage(IN_MEMORY).free > ROOM
    and not os.statvfs(IN_MEMORY).f_flag & os.ST_NOEXEC
):
    os.environ["TMPDIR"] = tempfile.tempdir = str(IN_MEMORY)

gc.set_threshold(5000, 20, 50)  # much is loaded here, and little refers to itself

HERE = Path(__file__).parent
LONGEST = (
    "life/test_log_life.py",
    "reader/test_hosts.py",
    "reader/test_one_file.py",
    "fleet/test_pool_and_cluster.py",
    "fleet/test_collect_crash.py",
    "log/test_crash.py",
    "log/test_tampering.py",
    "log/test_key_rounds.py",
    "proof/test_check_packet.py",
)
assert all((HERE / name).is_file() for name in LONGEST)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with what takes longest: no processor waits for it at the end."""
    places = {HERE / name: place for place, name in enumerate(LONGEST)}
    items.sort(key=lambda item: places.get(item.path, len(places)))


def pytest_collection_finish() -> None:
    """Leave what was loaded for all tests out of Python's collections."""
    gc.freeze()


def pytest_configure(config: pytest.Config) -> None:
    """Have Hypothesis draw by the seed of these tests, unless told another."""
    if config.option.hypothesis_seed is None:
        config.option.hypothesis_seed = sampling.SEED


def pytest_sessionstart(session: pytest.Session) -> None:
    """Say what is run, quiet or not: the same words in the environment repeat it."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if reporter is not None and not hasattr(session.config, "workerinput"):
        reporter.write_line(
            f"AUDITKIT_SEED={sampling.SEED} AUDITKIT_TESTS={sampling.AMOUNT}: "
            f"{EXAMPLES} examples of each property"
        )


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers(config: pytest.Config) -> int | None:
    """Run a single file in this process; leave more to all processors."""
    paths = {str(argument).partition("::")[0] for argument in config.args}
    if len(paths) == 1 and Path(paths.pop()).is_file():
        config.option.dist = "no"
        return 0
    return None


def small_record(order_id: str = "RO-1", extra: int = 0) -> Record:
    """Return an invented record of a few events; it proves nothing."""
    opening = {
        "kind": "opening",
        "at": "2026-03-02T08:00:00+01:00",
        "by": "mechanic-1",
        "shop": "Example Yard Garage",
        "vehicle": {
            "vin": "0ZZTB1A18CA000123",
            "model_year": 2012,
            "ignition": "spark",
            "odometer": {"value": "120345", "unit": "km"},
            "description": "delivery van",
        },
        "customer": {"name": "Customer One (invented)", "contact": "none"},
        "complaint": "lamp on",
    }
    notes = [
        {
            "kind": "code_clear",
            "at": "2026-03-02T09:00:00+01:00",
            "by": "mechanic-1",
            "tool": f"tool {i}",
        }
        for i in range(extra + 1)
    ]
    return Record(order_id, (opening, *notes))


@rule("proves-nothing")
def proves_nothing(_order: RepairOrder, _parameters: Parameters) -> list[Problem]:
    """Finds that a record of these tests proves nothing.

    What it checks
    Nothing: it blocks every time, whatever rules a shop has.

    Why it matters
    Tests of the log do not hang on shop rules.

    Example
    Any record.

    What to do
    It cannot be.
    """
    return [Problem("it proves nothing", "it cannot be mended")]


class BlockingRules:
    """A plugin of one rule that blocks."""

    @staticmethod
    @hookimpl
    def rules() -> list[Rule]:
        return [proves_nothing]


@pytest.fixture(scope="session", autouse=True)
def cheap_key_files():
    """Key files that a test makes cost little to open: they guard nothing.

    ``test_key_rounds.py`` reads what a real one costs, whatever command wrote it.
    """
    cheap = partialmethod(PrivateKey.to_pkcs12, kdf_rounds=1000)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(PrivateKey, "to_pkcs12", cheap)
        yield


@pytest.fixture(scope="session", autouse=True)
def signatures_looked_at_once():
    """Have OpenSSL look once at a signature that many tests ask about.

    It answers the same whenever it is asked: key, signature and text are all it knows.
    """
    with pytest.MonkeyPatch.context() as patch:
        remembered = functools.lru_cache(maxsize=10_000)(ed25519.fits)
        patch.setattr(ed25519, "fits", remembered)
        yield


@pytest.fixture(scope="session", autouse=True)
def bench_tests_computed_once():
    """Compute a bench test that many orders hold once: it says the same each time."""
    found, evaluate = {}, TestKind.evaluate

    def remembered(kind, inputs):
        asked = (kind, repr(inputs))
        if asked not in found:
            if len(found) == 10_000:
                found.clear()
            found[asked] = evaluate(kind, inputs)
        return found[asked]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TestKind, "evaluate", remembered)
        yield


@pytest.fixture(scope="session", autouse=True)
def installed_looked_up_once():
    """Read what is installed once: for the plugins of a command, for what is packed."""
    read = importlib.metadata.entry_points
    remembered = functools.lru_cache(maxsize=100)(lambda _path, **which: read(**which))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            importlib.metadata,
            "entry_points",
            lambda **which: remembered(tuple(sys.path), **which),
        )
        brought_by = functools.cache(packing.packages_distributions)
        patch.setattr(packing, "packages_distributions", brought_by)
        yield


@pytest.fixture(scope="session")
def catalogue() -> Catalogue:
    return load_catalogue({"tests": BlockingRules})


def judge(catalogue: Catalogue, record: Record) -> Judgement:
    return catalogue.judge(RepairOrder.fold(record.repair_order, record.events))


def close_order(
    ledger: Ledger, catalogue: Catalogue, order_id: str, by: str | None = None
) -> Recorded:
    """Record an invented order that proves nothing, with its verdict."""
    record = small_record(order_id)
    return ledger.record(
        record,
        judge(catalogue, record),
        passphrase=PASSPHRASE,
        by=by,
        unproven_reason="a test of the log, not of a repair",
    )


def forced(ledger: Ledger, order_id: str, events, person: str, signer) -> list[int]:
    """Append as someone would who works around ``Ledger.append`` and its refusals."""
    with ledger.store.transaction():
        tree = ledger.tree.frontier()
        writer = Writer(ledger.store, ledger.origin, lambda: datetime.now(UTC), tree)
        seqs = [writer.add(order_id, event, person, signer) for event in events]
        writer.flush()
    return seqs


@pytest.fixture(scope="session")
def made_logs(tmp_path_factory, catalogue: Catalogue) -> Path:
    """Return a folder of two logs, each with its keys: ``new``, and ``closed``."""
    folder = tmp_path_factory.mktemp("logs")
    (folder / "new").mkdir()
    with Ledger.create(
        folder / "new" / "shop.auditlog",
        shop="Example Yard Garage",
        person="mechanic-1",
        passphrase=PASSPHRASE,
    ):
        pass
    shutil.copytree(folder / "new", folder / "closed")
    with Ledger.open(folder / "closed" / "shop.auditlog") as made:
        for order_id in ("RO-1", "RO-2"):
            close_order(made, catalogue, order_id)
    return folder


@pytest.fixture
def ledger(request, tmp_path: Path, made_logs: Path):
    """Return a new log: a copy of one, that is quicker than another one."""
    kept = "closed" if "closed" in request.fixturenames else "new"
    shutil.copytree(made_logs / kept, tmp_path, dirs_exist_ok=True)
    with Ledger.open(tmp_path / "shop.auditlog") as made:
        yield made


@pytest.fixture
def closed(ledger: Ledger) -> Ledger:
    """Return a log with two closed repair orders: ``ledger`` sees that it is asked."""
    return ledger


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    """Return a function that runs the command line: (status, output, errors).

    It runs in an empty folder but for the demo's records and a readout.
    """
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("AUDITKIT_PASSPHRASE", PASSPHRASE.decode())
    demo = files("auditkit_demo")
    orders = [f"RO-100{number}.json" for number in range(1, 6)]
    for name in (*orders, "readout.txt"):
        Path(name).write_bytes((demo / name).read_bytes())

    def call(*arguments):
        with pytest.raises(SystemExit) as end:
            main([str(a) for a in arguments])
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return end.value.code, out, err

    return call


@pytest.fixture(scope="module")
def browser():
    """Return a running Chromium that asks nothing of any network."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as started:
        made = started.chromium.launch(
            executable_path=CHROMIUM,
            args=[
                "--no-sandbox",
                "--disable-gpu",
                "--disable-quic",
                "--no-first-run",
                "--disable-background-networking",
                "--disable-component-update",
                "--disable-sync",
            ],
        )
        yield made
        made.close()
