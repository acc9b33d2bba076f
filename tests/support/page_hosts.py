"""The hosts that the checker page's Python runs in, driven over many files at once.

Each takes questions (a request and a file's bytes) and gives what the page's worker
answers: the answer and the story, as JSON texts. All run in one started runtime.
"""

import base64
import contextlib
import gzip
import json
import shutil
import socket
import subprocess
import tempfile
import time
import warnings
from dataclasses import dataclass
from importlib.resources import files
from importlib.util import find_spec
from pathlib import Path

from auditkit.reader.page import runtime
from auditkit.reader.page.build import part, sources
from auditkit.reader.page.desk import DeskTurn
from auditkit.reader.page.scripts import joined

NODE = shutil.which("node")
# That without windows takes half the time, and draws the same.
_CHROMIUMS = ("chromium-headless-shell", "chromium", "chromium-browser")
CHROMIUM = next(filter(None, map(shutil.which, _CHROMIUMS)), None)
FIREFOX = shutil.which("firefox-esr") or shutil.which("firefox")
HAS_FIREFOX = bool(FIREFOX) and find_spec("marionette_driver") is not None
AT_ONCE = 100  # questions that a browser takes at once


@dataclass(frozen=True, slots=True)
class Question:
    """What the page's script hands to Python: what was typed, and a file."""

    data: bytes = b""
    key: str = ""
    kept: str = ""
    name: str | None = "a file"

    @property
    def request(self) -> str:
        told = {"name": self.name, "size": len(self.data), "key": self.key}
        return json.dumps({**told, "kept": self.kept})

    def to_json(self) -> dict[str, str]:
        return {"request": self.request, "file": base64.b64encode(self.data).decode()}


def by_package(question: Question) -> tuple[str, str]:
    """Return what the same Python answers here, where OpenSSL looks at signatures."""
    turn = DeskTurn(
        name=question.name,
        data=question.data,
        size=len(question.data),
        typed=question.key,
        kept=question.kept,
    )
    turn.work()
    return json.dumps(turn.to_json()), json.dumps(turn.story())


_FORGET = """
import functools, gc
for found in gc.get_objects():
    if isinstance(found, functools._lru_cache_wrapper):
        found.cache_clear()
"""
_NODE = """
import fs from "node:fs";
import { createInterface } from "node:readline";
import { loadPyodide } from "./pyodide.mjs";
import createModule from "./pyodide.asm.mjs";
const { answerTo, prepare, storyOf } = modules["desk.js"];
const python = await new Promise((resolve, reject) => {
  const createPyodideModule = async (settings) => {
    resolve(await createModule(settings));
    return new Promise(() => {});
  };
  loadPyodide({ indexURL: process.argv[2], createPyodideModule }).catch(reject);
});
prepare(python, JSON.parse(fs.readFileSync("sources.json")));
for await (const place of createInterface({ input: process.stdin })) {
  const told = [];
  const { isPlain, questions } = JSON.parse(fs.readFileSync(place));
  const subtle = isPlain ? null : undefined;
  const [status, said] = python.API.rawRun(forget);
  if (status !== 0) throw new Error(said);
  for (const { request, file } of questions) {
    const bytes = Uint8Array.from(Buffer.from(file, "base64"));
    const { answer } = await answerTo(python, request, bytes, () => {}, subtle);
    told.push([answer, storyOf(python)]);
  }
  fs.writeFileSync(place, JSON.stringify(told));
  console.log(place);
}
process.exit(0);
"""


@contextlib.contextmanager
def node():
    """Start the page's Python in node; give what asks it one portion after another.

    It remembers nothing of the portion before.
    """
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for file in (runtime.WASM, runtime.STDLIB, runtime.LOADER, runtime.GLUE):
            (folder / file).write_bytes(runtime.published(file))
        lock = files("auditkit.reader.page") / "vendor" / "pyodide-lock.json.gz"
        (folder / "pyodide-lock.json").write_bytes(gzip.decompress(lock.read_bytes()))
        texts = {name: data.decode() for name, data in sources().files.items()}
        (folder / "sources.json").write_text(json.dumps(texts))
        vendored = runtime.published("noble-ed25519.js").decode()
        script = joined(
            {
                "vendor/noble-ed25519.js": vendored,
                "signatures.js": part("signatures.js"),
                "desk.js": part("desk.js"),
            }
        )
        forget = f"const forget = {json.dumps(_FORGET)};"
        (folder / "run.mjs").write_text(script + forget + _NODE)
        with (
            (folder / "errors").open("w+") as errors,
            subprocess.Popen(
                [NODE, "run.mjs", f"{folder}/"],
                cwd=folder,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=errors,
                text=True,
            ) as process,
        ):

            def ask(questions: list[Question], *, plain: bool) -> list[list[str]]:
                """Return what node answers; ``plain`` leaves its WebCrypto out."""
                place = folder / "portion.json"
                asked = [q.to_json() for q in questions]
                place.write_text(json.dumps({"isPlain": plain, "questions": asked}))
                process.stdin.write(f"{place}\n")
                process.stdin.flush()
                said = process.stdout.readline()
                errors.seek(0)
                assert said == f"{place}\n", said + errors.read()[-3000:]
                return json.loads(place.read_text())

            yield ask
            process.stdin.close()
        assert process.returncode == 0


_LOOK = """
import fs from "node:fs";
const { look } = modules["signatures.js"];
const asked = new Uint8Array(fs.readFileSync("asked"));
const subtle = process.argv[2] === "plain" ? null : undefined;
fs.writeFileSync("told", await look(asked, () => {}, subtle));
"""


def look(asked: bytes, *, plain: bool = False) -> bytes:
    """Return what the page's script tells of signatures, run by node."""
    vendored = runtime.published("noble-ed25519.js").decode()
    modules = {
        "vendor/noble-ed25519.js": vendored,
        "signatures.js": part("signatures.js"),
    }
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "asked").write_bytes(asked)
        (folder / "look.mjs").write_text(joined(modules) + _LOOK)
        command = [NODE, "look.mjs", "plain" if plain else "engine"]
        subprocess.run(command, cwd=folder, check=True, capture_output=True)
        return (folder / "told").read_bytes()


# In the checker page: starts a worker as the page does, and asks it one by one. What it
# runs differs in two places: it forgets what it worked out where it is told to, and its
# WebCrypto can be left out.
_SUBTLE = "globalThis.crypto?.subtle ?? null"
_TAKE = "async function take({ parts, number, request, file }) {"
_TAKE_OR_FORGET = """async function take({ parts, number, request, file, forget }) {
  if (forget) {
    globalThis.isPlain = forget.isPlain;
    const [status, said] = python.API.rawRun(forget.code);
    if (status !== 0) throw new Error(said);
    postMessage({ isReady: true });
    return;
  }"""
_ASK = """
async function start() {
  const text = (id) => document.getElementById(id).textContent;
  let source = JSON.parse(text("worker"));
  for (const [old, made] of Object.entries(otherwise)) {
    if (source.split(old).length !== 2) throw new Error(`not once: ${old}`);
    source = source.replace(old, () => made);
  }
  const url = URL.createObjectURL(new Blob([source], { type: "text/javascript" }));
  const worker = new Worker(url);
  const names = ["info", "sources", "stdlib", "wasm"];
  await ready(worker, { parts: Object.fromEntries(names.map((n) => [n, text(n)])) });
  return worker;
}
async function ready(worker, told) {
  await new Promise((resolve, reject) => {
    worker.onmessage = ({ data }) => (data.isReady ? resolve() : reject(data.fault));
    worker.onerror = (event) => reject(event.message);
    worker.postMessage(told);
  });
}
async function ask(worker, questions) {
  const told = [];
  for (const { request, file } of questions) {
    const bytes = Uint8Array.from(atob(file), (letter) => letter.charCodeAt(0));
    told.push(await new Promise((resolve, reject) => {
      let answer;
      worker.onmessage = ({ data }) => {
        if (data.fault !== undefined) reject(data.fault);
        else if (data.answer !== undefined) ({ answer } = data);
        else if (data.story !== undefined) resolve([answer, data.story]);
      };
      worker.postMessage({ number: 1, request, file: bytes });
    }));
  }
  return told;
}
async function begin(isPlain) {
  window.asked ??= await start();
  await ready(window.asked, { forget: { code, isPlain } });
}
"""
_OTHERWISE = {
    _TAKE: _TAKE_OR_FORGET,
    _SUBTLE: f"globalThis.isPlain ? null : {_SUBTLE}",
}
START = (
    f"const otherwise = {json.dumps(_OTHERWISE)}, code = {json.dumps(_FORGET)};{_ASK}"
)


def _portions(questions: list[Question]) -> list[list[dict[str, str]]]:
    written = [q.to_json() for q in questions]
    return [written[i : i + AT_ONCE] for i in range(0, len(written), AT_ONCE)]


def by_chromium(page, questions: list[Question], *, plain: bool):
    """Return what Chromium answers in an open checker page."""
    page.evaluate(f"async (isPlain) => {{ {START} await begin(isPlain); }}", plain)
    told = []
    for portion in _portions(questions):
        told += page.evaluate(
            f"(some) => {{ {START} return ask(window.asked, some); }}", portion
        )
    return told


@contextlib.contextmanager
def firefox():
    """Start Firefox without a window; give the driver of its one tab."""
    with warnings.catch_warnings():
        # Libraries that the driver uses warn of each other.
        warnings.simplefilter("ignore", DeprecationWarning)
        from marionette_driver.marionette import Marionette

    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        port = found.getsockname()[1]
    with tempfile.TemporaryDirectory() as profile:
        settings = {
            "marionette.port": port,
            "app.update.enabled": False,
            "network.dns.disabled": True,
            "datareporting.policy.dataSubmissionEnabled": False,
        }
        lines = (f'user_pref("{k}", {json.dumps(v)});' for k, v in settings.items())
        (Path(profile) / "user.js").write_text("\n".join(lines))
        command = [FIREFOX, "--headless", "--marionette", "--profile", profile]
        process = subprocess.Popen(
            [*command, "--no-remote"],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        try:
            driver = Marionette("127.0.0.1", port=port, startup_timeout=60)
            _connect(driver, port)
            driver.timeout.script = 600
            yield driver
        finally:
            process.terminate()
            process.wait(30)


def _connect(driver, port: int) -> None:
    for _ in range(240):
        with (
            contextlib.suppress(OSError),
            socket.create_connection(("127.0.0.1", port), 1),
        ):
            break
        time.sleep(0.25)
    driver.start_session()


def by_firefox(driver, questions: list[Question], *, plain: bool) -> list[list[str]]:
    """Return what Firefox answers in an open checker page."""
    fault = driver.execute_async_script(
        START + "const [isPlain, done] = arguments;"
        "begin(isPlain).then(() => done(null), (fault) => done(String(fault)));",
        script_args=[plain],
        new_sandbox=False,
    )
    assert fault is None, fault
    told = []
    for portion in _portions(questions):
        found = driver.execute_async_script(
            START + "const [some, done] = arguments;"
            "ask(window.asked, some).then(done, (fault) => done(String(fault)));",
            script_args=[portion],
            new_sandbox=False,
        )
        assert isinstance(found, list), found
        told += found
    return told
