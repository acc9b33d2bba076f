"""Prints how quick the checker page is in each browser, beside floors of the same run.

Run it with ``python tests/benchmarks/page.py [--rounds N] [--entries N]``. It passes
or fails nothing. For each browser that is there, in rounds: the time until something
readable stands; an empty start of the runtime, whole, as its published loader makes it;
the time from opening the page to the answer about one packet, and its ratio to that
start; the time from giving a packet of many entries to its answer, as a ratio to the
browser's own Ed25519 over as many signatures.

The events of the many entries lack what their schema asks for, so that this reader
reads none of them and names each: schemas have to explain every one. Events that fit
cost a little less. Of what Python does in the page for 2,000 of them (profile of the
same work on plain CPython, without its native JSON reader and without signatures), 60 %
is verifying: parsing the packet and each payload, and their proofs; 30 % is judging,
of it a third schemas and a third which cautions the steps call for; the rest is
drawing. Both are linear in the entries, and nothing is parsed or judged twice. That
profile is of 0.4 s; on the same machine, busy with other work, the page took 3 s. What
is above the reach is Python in the page, the verifying more than the judging.
"""

from __future__ import annotations

import argparse
import base64
import statistics
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "support"))

import page_hosts
import web_corpus

from auditkit.reader.page import runtime
from auditkit.reader.page.build import checker_page
from auditkit.reader.page.scripts import joined

# The published loader, left to itself: Python and its bridge to JavaScript.
EMPTY = """
import { loadPyodide } from "./vendor/pyodide.mjs";
import { default as createPyodideModule } from "./vendor/pyodide.asm.mjs";
const bytesOf = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
onmessage = async ({ data: { wasm, stdlib, info } }) => {
  const began = performance.now();
  globalThis.fetch = async (url) => {
    if (!String(url).endsWith(".wasm")) return new Response(bytesOf(stdlib));
    const packed = new Blob([bytesOf(wasm)]).stream();
    const headers = { "Content-Type": "application/wasm" };
    const inflated = packed.pipeThrough(new DecompressionStream("gzip"));
    return new Response(inflated, { headers });
  };
  await loadPyodide({
    indexURL: "https://page.invalid/",
    createPyodideModule,
    lockFileContents: { info: JSON.parse(info), packages: {} },
  });
  postMessage(performance.now() - began);
};
"""

# Milliseconds since the page was opened, or since a file was given.
PAINTED = "() => performance.getEntriesByName('first-contentful-paint')[0]?.startTime"
GIVE = """(raw, key) => new Promise((resolve) => {
  const root = document.documentElement;
  const before = root.dataset.answered;
  const began = performance.now();
  new MutationObserver(() => {
    if (root.dataset.answered !== before) {
      resolve([performance.now(), performance.now() - began,
        document.querySelector(".answer").dataset.answer]);
    }
  }).observe(root, { attributes: true });
  const bytes = Uint8Array.from(atob(raw), (letter) => letter.charCodeAt(0));
  const dataTransfer = new DataTransfer();
  dataTransfer.items.add(new File([bytes], "packet.json"));
  document.dispatchEvent(new DragEvent("drop", { dataTransfer, bubbles: true }));
})"""
START = """(source) => new Promise((resolve, reject) => {
  const url = URL.createObjectURL(new Blob([source], { type: "text/javascript" }));
  const worker = new Worker(url);
  worker.onerror = (event) => reject(event.message);
  worker.onmessage = ({ data }) => { worker.terminate(); resolve(data); };
  const text = (id) => document.getElementById(id).textContent;
  const [wasm, stdlib, info] = ["wasm", "stdlib", "info"].map(text);
  worker.postMessage({ wasm, stdlib, info });
})"""
BARE = """(jobs) => (async () => {
  const bytes = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const asked = jobs.map((job) => job.map(bytes));
  const keys = new Map();
  const began = performance.now();
  const told = await Promise.all(asked.map(async ([raw, signature, message]) => {
    const name = raw.join();
    if (!keys.has(name)) {
      keys.set(name, crypto.subtle.importKey("raw", raw, "Ed25519", false, ["verify"]));
    }
    return crypto.subtle.verify("Ed25519", await keys.get(name), signature, message);
  }));
  if (!told.every(Boolean)) throw new Error("a signature does not fit");
  return performance.now() - began;
})()"""


def empty_start() -> str:
    """Return the script of a worker that starts the runtime and no more."""
    names = (runtime.GLUE, runtime.LOADER)
    vendored = {f"vendor/{name}": runtime.published(name).decode() for name in names}
    return joined({**vendored, "empty.js": EMPTY})


def packet_of(entries: int) -> tuple[bytes, list[list[str]]]:
    """Return a packet of so many entries, and its signatures as base64."""
    forge = web_corpus.Forge().enrol()
    for number in range(entries - 3):
        forge.work(tool=f"tool {number}")
    made = forge.verdict().packet().encode()
    jobs = []
    for entry, signer in zip(forge.made, signers(len(forge.made)), strict=True):
        parts = (signer, entry.signature, entry.signing_input)
        jobs.append([base64.b64encode(part).decode() for part in parts])
    return made, jobs


def signers(entries: int) -> list[bytes]:
    """Return who signed each entry: the log its first two, a mechanic the rest."""
    log, mechanic = web_corpus.LOG.raw, web_corpus.MECHANIC.raw
    return [log, log, *[mechanic] * (entries - 2)]


class Chromium:
    """One page after the other in Chromium."""

    def __init__(self, browser) -> None:
        self.browser = browser
        self.page = None

    def open(self, place: Path) -> None:
        self.page = self.browser.new_page()
        self.page.goto(place.as_uri(), wait_until="commit")
        self.page.wait_for_selector("#wasm", state="attached")

    def call(self, function: str, *arguments: object) -> object:
        return self.page.evaluate(f"(given) => ({function})(...given)", list(arguments))

    def close(self) -> None:
        self.page.close()


class Firefox:
    """One page after the other in Firefox."""

    def __init__(self, driver) -> None:
        self.driver = driver

    def open(self, place: Path) -> None:
        self.driver.navigate(place.as_uri())

    def call(self, function: str, *arguments: object) -> object:
        found = self.driver.execute_async_script(
            "const [given, done] = arguments;"
            f"Promise.resolve(({function})(...given))"
            ".then(done, (fault) => done(String(fault)));",
            script_args=[list(arguments)],
        )
        if isinstance(found, str):
            raise TypeError(found)
        return found

    def close(self) -> None:
        self.driver.navigate("about:blank")


def line(name: str, reach: str, found: list[float], unit: str = "") -> None:
    middle = statistics.median(found)
    span = f"{min(found):.2f} to {max(found):.2f}"
    print(f"{name:<60} {reach:>7} {middle:7.2f}{unit:<3} {span}", flush=True)


def measure(name: str, host, place: Path, rounds: int, entries: int) -> None:
    """Print the lines of one browser."""
    small = base64.b64encode(web_corpus.plain().packet().encode()).decode()
    many, jobs = packet_of(entries)
    large = base64.b64encode(many).decode()
    source = empty_start()
    painted, starts, answers, ratios, longer, signatures = [], [], [], [], [], []
    for _ in range(rounds):
        host.open(place)
        opened, _, kind = host.call(GIVE, small)
        assert kind == "alone", kind
        painted.append(host.call(PAINTED) / 1000)
        _, took, kind = host.call(GIVE, large)
        assert kind == "alone", kind
        floor = host.call(BARE, jobs)
        start = host.call(START, source)
        host.close()
        starts.append(start / 1000)
        answers.append(opened / 1000)
        ratios.append(opened / start)
        longer.append(took / 1000)
        signatures.append(took / floor)
    line(f"{name}: something readable", "< 0.5 s", painted, " s")
    line(f"{name}: an empty start of the runtime", "", starts, " s")
    line(f"{name}: from opening the page to the answer", "", answers, " s")
    line(f"{name}: the same / an empty start", "<= 2", ratios)
    line(f"{name}: {entries} entries, from giving to the answer", "", longer, " s")
    line(f"{name}: {entries} entries / bare WebCrypto", "<= 4", signatures)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--entries", type=int, default=2000)
    given = parser.parse_args()
    print(f"{'work':<60} {'reach':>7} {'median':>7}    lowest to highest")
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "check.html"
        place.write_text(checker_page(), encoding="utf-8")
        if page_hosts.CHROMIUM:
            from playwright.sync_api import sync_playwright

            with sync_playwright() as started:
                browser = started.chromium.launch(
                    executable_path=page_hosts.CHROMIUM, args=["--no-sandbox"]
                )
                host = Chromium(browser)
                measure("Chromium", host, place, given.rounds, given.entries)
                browser.close()
        if page_hosts.HAS_FIREFOX:
            with page_hosts.firefox() as driver:
                host = Firefox(driver)
                measure("Firefox", host, place, given.rounds, given.entries)


if __name__ == "__main__":
    main()
