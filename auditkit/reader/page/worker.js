/**
 * The worker: starts CPython from the bytes that the page carries, then answers.
 *
 * The published loader makes the settings; its bridge between Python and JavaScript is
 * not started, which takes most of a start's time and is not needed: `desk.js` is the
 * whole bridge. Nothing is fetched: names that the runtime asks for are its own parts.
 */

import { answerTo, prepare, storyOf } from "./desk.js";
import { loadPyodide } from "./vendor/pyodide.mjs";
import { default as createModule } from "./vendor/pyodide.asm.mjs";

const NOWHERE = "https://page.invalid/";

function bytesOf(text) {
  if (Uint8Array.fromBase64) return Uint8Array.fromBase64(text);
  const letters = atob(text);
  const bytes = new Uint8Array(letters.length);
  for (let i = 0; i < letters.length; i += 1) bytes[i] = letters.charCodeAt(i);
  return bytes;
}

function unpacked(text) {
  const packed = new Blob([bytesOf(text)]).stream();
  return packed.pipeThrough(new DecompressionStream("gzip"));
}

/** Answer whatever the runtime fetches from what the page carries, or refuse. */
function serve({ wasm, stdlib }) {
  globalThis.fetch = async (url) => {
    const name = String(url);
    if (name.endsWith(".wasm")) {
      const headers = { "Content-Type": "application/wasm" };
      return new Response(unpacked(wasm), { headers });
    }
    if (name.endsWith(".zip")) return new Response(bytesOf(stdlib));
    throw new Error(`nothing is fetched: ${name}`);
  };
}

/** The runtime's module as soon as Python itself runs. */
function start(info) {
  return new Promise((resolve, reject) => {
    loadPyodide({
      indexURL: NOWHERE,
      lockFileContents: { info, packages: {} },
      createPyodideModule: async (settings) => {
        resolve(await createModule(settings));
        return new Promise(() => {}); // the rest of the start is left out
      },
    }).catch(reject);
  });
}

let python;

async function take({ parts, number, request, file }) {
  if (parts) {
    serve(parts);
    python = await start(JSON.parse(parts.info));
    prepare(python, JSON.parse(parts.sources));
    postMessage({ isReady: true });
    return;
  }
  const progress = (done, total) => postMessage({ number, done, total });
  const { answer, packet } = await answerTo(python, request, file, progress);
  postMessage({ number, answer, packet });
  postMessage({ number, story: storyOf(python) });
}

// One after the other: Python does one thing at a time.
let last = Promise.resolve();
onmessage = ({ data }) => {
  last = last
    .then(() => take(data))
    .catch((error) => postMessage({ number: data.number, fault: String(error) }));
};
