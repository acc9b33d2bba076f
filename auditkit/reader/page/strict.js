/**
 * JSON read strictly, and JSON written in its one canonical form.
 *
 * `parse` refuses what JSON.parse lets slip: doubled names, fractions, integers
 * past 2^53-1, lone surrogates, a byte-order mark, depth over 64. Objects become
 * Maps, which keep the order of their names and know no inherited ones.
 */

import { Refusal, fromUtf8, isBroken, utf8 } from "./text.js";

const MAX_BYTES = 4 * 1024 * 1024;
const MAX_DEPTH = 64;
const SPACE = /[ \t\n\r]*/y;
const PLAIN = /[^"\\\u0000-\u001f]*/y;
const INTEGER = /-?(?:0|[1-9][0-9]*)/y;
const FRACTION = /\.[0-9]|[eE][-+]?[0-9]/y;
const WORD = /true|false|null/y;
const CONSTANT = /NaN|-?Infinity/y;
const UNICODE = /u[0-9a-fA-F]{4}/y;
const WORDS = { true: true, false: false, null: null };
const ESCAPES = {
  '"': '"',
  "\\": "\\",
  "/": "/",
  b: "\b",
  f: "\f",
  n: "\n",
  r: "\r",
  t: "\t",
};

class Reader {
  constructor(text) {
    this.text = text;
    this.at = 0;
  }

  fail(what) {
    const before = this.text.slice(0, this.at).split("\n");
    const place = `line ${before.length} column ${before.at(-1).length + 1}`;
    throw new Refusal(`it is not JSON: ${what} at ${place}`, "correct that place");
  }

  match(pattern) {
    pattern.lastIndex = this.at;
    const found = pattern.exec(this.text);
    if (found === null) return null;
    this.at = pattern.lastIndex;
    return found[0];
  }

  take(letter) {
    if (this.text[this.at] !== letter) return false;
    this.at += 1;
    return true;
  }

  whole() {
    this.match(SPACE);
    const value = this.value(0);
    this.match(SPACE);
    if (this.at !== this.text.length) this.fail("there is more after the value");
    return value;
  }

  value(depth) {
    if (this.take('"')) return this.string();
    if (this.take("{")) return this.object(depth + 1);
    if (this.take("[")) return this.list(depth + 1);
    const word = this.match(WORD);
    if (word !== null) return WORDS[word];
    const constant = this.match(CONSTANT);
    if (constant !== null) {
      const mend = "leave it out or write what was read";
      throw new Refusal(`${constant} is not a JSON value`, mend);
    }
    return this.integer();
  }

  integer() {
    const text = this.match(INTEGER);
    if (text === null) this.fail("a value is missing");
    if (this.match(FRACTION) !== null) {
      const message = `${text}… is a number with a fraction or exponent`;
      throw new Refusal(message, "write the digits that were read as text");
    }
    const value = Number(text);
    if (text.length > 17 || !Number.isSafeInteger(value) || text === "-0") {
      const message = `the integer ${text.slice(0, 40)} is outside ±(2^53-1)`;
      throw new Refusal(message, "write it as text");
    }
    return value;
  }

  string() {
    let made = this.match(PLAIN);
    while (!this.take('"')) {
      if (!this.take("\\")) this.fail("a string is broken off or holds a control");
      const unicode = this.match(UNICODE);
      if (unicode !== null) {
        made += String.fromCharCode(parseInt(unicode.slice(1), 16));
      } else {
        const letter = this.text[this.at] ?? "";
        if (!Object.hasOwn(ESCAPES, letter)) this.fail("an escape is unknown");
        made += ESCAPES[letter];
        this.at += 1;
      }
      made += this.match(PLAIN);
    }
    return made;
  }

  nest(depth) {
    if (depth > MAX_DEPTH) {
      throw new Refusal(`it nests deeper than ${MAX_DEPTH}`, "write it flatter");
    }
    this.match(SPACE);
  }

  list(depth) {
    this.nest(depth);
    const made = [];
    if (this.take("]")) return made;
    for (;;) {
      made.push(this.value(depth));
      this.match(SPACE);
      if (this.take("]")) return made;
      if (!this.take(",")) this.fail("a comma is missing");
      this.match(SPACE);
    }
  }

  object(depth) {
    this.nest(depth);
    const made = new Map();
    if (this.take("}")) return made;
    for (;;) {
      if (!this.take('"')) this.fail("a name is missing");
      const name = this.string();
      this.match(SPACE);
      if (!this.take(":")) this.fail("a colon is missing");
      this.match(SPACE);
      const value = this.value(depth);
      if (made.has(name)) {
        throw new Refusal(`the name ${name} stands twice in one object`, "keep one");
      }
      if (!/^[\u0000-\u007f]*$/.test(name)) {
        throw new Refusal(`the name ${name} is not plain ASCII`, "use a known name");
      }
      made.set(name, value);
      this.match(SPACE);
      if (this.take("}")) return made;
      if (!this.take(",")) this.fail("a comma is missing");
      this.match(SPACE);
    }
  }
}

function refuseBroken(value) {
  if (typeof value === "string") {
    if (isBroken(value)) {
      throw new Refusal("it holds a lone surrogate", "write whole characters");
    }
  } else if (Array.isArray(value)) {
    value.forEach(refuseBroken);
  } else if (value instanceof Map) {
    value.forEach((item, name) => {
      refuseBroken(name);
      refuseBroken(item);
    });
  }
}

/** The text of UTF-8 bytes that may be JSON. */
function readText(bytes, limit = MAX_BYTES) {
  if (bytes.length > limit) {
    throw new Refusal(`it is ${bytes.length} bytes long, over ${limit}`, "split it");
  }
  let text;
  try {
    text = fromUtf8(bytes);
  } catch (error) {
    if (!(error instanceof TypeError)) throw error;
    throw new Refusal("it is not UTF-8 text", "save the file as UTF-8");
  }
  if (text.startsWith("\ufeff")) {
    const mend = "save it as UTF-8 without one";
    throw new Refusal("it starts with a byte-order mark", mend);
  }
  return text;
}

/** The value that a JSON text holds. The text holds no lone surrogate. */
function parse(text) {
  const value = new Reader(text).whole();
  if (text.includes("\\u")) refuseBroken(value);
  return value;
}

/** The canonical text of a value: sorted, compact (RFC 8785 for this profile). */
function canonical(value) {
  if (Array.isArray(value)) return `[${value.map(canonical).join(",")}]`;
  if (!(value instanceof Map)) return JSON.stringify(value);
  const names = [...value.keys()].sort();
  const members = names.map(
    (name) => `${JSON.stringify(name)}:${canonical(value.get(name))}`,
  );
  return `{${members.join(",")}}`;
}

/** The value of a text that is canonical already; any other is refused. */
function parseCanonical(text, limit) {
  if (utf8(text).length > limit || text.startsWith("\ufeff")) {
    throw new Refusal(`it is over ${limit} bytes long or no JSON`, "split it");
  }
  const value = parse(text);
  if (canonical(value) !== text) {
    const message = "it is not in its one canonical form";
    throw new Refusal(message, "write it canonically");
  }
  return value;
}

export { parse, parseCanonical, readText };
