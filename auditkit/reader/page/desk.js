/**
 * Where the page hands a file to Python and takes back its answer: files of the
 * runtime's memory, and no other bridge. `python` is the runtime's module.
 */

import { look } from "./signatures.js";

const SOURCES = "/sources";
const START = [
  "import importlib, sys, types",
  `sys.path.insert(0, "${SOURCES}")`,
  // Nothing is installed in a page: what would look for it takes long to load.
  'importlib.metadata = types.ModuleType("importlib.metadata")',
  'sys.modules["importlib.metadata"] = importlib.metadata',
].join("\n");
const DESK = "auditkit.reader.page.desk";

function run(python, code) {
  const [status, said] = python.API.rawRun(code);
  if (status !== 0) throw new Error(said || "the check stopped");
}

/** Give Python its sources, texts by their paths, and let it read them. */
function prepare(python, sources) {
  const folders = new Set();
  const encoder = new TextEncoder();
  for (const [path, text] of Object.entries(sources)) {
    const place = `${SOURCES}/${path}`;
    const folder = place.slice(0, place.lastIndexOf("/"));
    if (!folders.has(folder)) python.FS.mkdirTree(folder);
    folders.add(folder);
    python.FS.writeFile(place, encoder.encode(text), { canOwn: true });
  }
  run(python, START);
  run(python, `import ${DESK} as desk`);
}

/**
 * The answer to a request (JSON text) about a file's bytes, as JSON text, and the packet
 * that was taken out of the file, if it was.
 *
 * Python answers, or asks first whether signatures fit, as often as it has to.
 */
async function answerTo(python, request, file, progress, subtle) {
  python.FS.writeFile("/request", request);
  python.FS.writeFile("/file", file);
  run(python, "desk.begin()");
  for (;;) {
    run(python, "desk.turn()");
    const asked = python.FS.readFile("/asked");
    if (asked.length === 0) break;
    python.FS.writeFile("/told", await look(asked, progress, subtle));
    run(python, "desk.told()");
  }
  const answer = python.FS.readFile("/answer", { encoding: "utf8" });
  return { answer, packet: python.FS.readFile("/packet") };
}

/** The story of the packet that was answered about, as JSON text. */
function storyOf(python) {
  run(python, "desk.story()");
  return python.FS.readFile("/story", { encoding: "utf8" });
}

export { answerTo, prepare, storyOf };
