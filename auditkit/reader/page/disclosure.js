/** Withheld text: salted digests in what was signed, the text beside it (RFC 9901). */

import { sha256 } from "./hashes.js";
import { quoted } from "./note.js";
import { parse, readText } from "./strict.js";
import { Refusal, decode64, encode64, utf8 } from "./text.js";

const RESERVED = new Set(["_sd", "...", "_sd_alg"]);

function digest(disclosure) {
  return encode64(sha256(utf8(disclosure)));
}

function parseDisclosure(disclosure) {
  const value = parse(readText(decode64(disclosure)));
  if (!Array.isArray(value) || value.length !== 3) {
    throw new Refusal("a disclosure is a list of salt, name and value");
  }
  const [salt, name, content] = value;
  if (typeof salt !== "string" || typeof name !== "string" || RESERVED.has(name)) {
    throw new Refusal("a disclosure's salt or name is unfit");
  }
  return { name, value: content };
}

function put(value, given) {
  const event = new Map();
  let hidden = 0;
  for (const [name, item] of value) {
    if (item instanceof Map) {
      const inner = put(item, given);
      event.set(name, inner.event);
      hidden += inner.hidden;
    } else if (name !== "_sd") {
      event.set(name, item);
    }
  }
  const found = value.get("_sd");
  for (const wanted of Array.isArray(found) ? found : []) {
    const said = given.get(wanted);
    given.delete(wanted);
    if (said === undefined) hidden += 1;
    else if (event.has(said.name)) {
      throw new Refusal(`a disclosure repeats the member ${quoted(said.name)}`);
    } else event.set(said.name, said.value);
  }
  return { event, hidden };
}

/**
 * The event with disclosed members put back (7.1), and how many digests stay
 * undisclosed. A disclosure that the event did not sign for is refused.
 */
function reveal(event, disclosures) {
  const given = new Map();
  for (const written of disclosures) {
    const said = parseDisclosure(written);
    if (given.has(digest(written))) throw new Refusal("a disclosure is given twice");
    given.set(digest(written), said);
  }
  const made = put(event, given);
  if (given.size > 0) {
    throw new Refusal("a disclosure belongs to no digest of its entry");
  }
  return made;
}

export { reveal };
