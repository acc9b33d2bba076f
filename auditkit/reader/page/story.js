/**
 * The repair's story in plain words, from what was signed. Pure: text in, text out.
 *
 * Nothing is judged here: a bench test's value and its limit stand side by side, and
 * the verdict is the one that was signed.
 */

import { shown } from "./keyring.js";

const NONE = new Map();

function object(event, name) {
  const value = event.get(name);
  return value instanceof Map ? value : NONE;
}

function items(event, name) {
  const value = event.get(name);
  return Array.isArray(value) ? value : [];
}

function text(event, name) {
  const value = event.get(name);
  return value === undefined || value === null ? "" : told(value);
}

/** A quantity as its digits and unit; anything else in words. */
function told(value) {
  if (Array.isArray(value)) return value.map(told).join(", ");
  if (!(value instanceof Map)) return value === null ? "nothing" : shown(value);
  const sides = ["value", "above", "below"].filter((side) => value.has(side));
  if (sides.length === 1 && typeof value.get(sides[0]) === "string" && value.has("unit")) {
    const name = value.has("name") ? `${told(value.get("name"))}: ` : "";
    const side = sides[0] === "value" ? "" : `${sides[0]} `;
    return `${name}${side}${value.get(sides[0])} ${told(value.get("unit"))}`;
  }
  return Array.from(value, ([name, item]) => `${name} ${told(item)}`).join(", ");
}

function limit(event) {
  const given = object(event, "limit");
  const unit = text(given, "unit");
  const sides = [
    ["minimum", "at least"],
    ["maximum", "at most"],
  ]
    .filter(([name]) => given.has(name))
    .map(([name, words]) => `${words} ${text(given, name)} ${unit}`);
  if (sides.length === 0) return "No limit is recorded.";
  const source = text(given, "source");
  const from = source === "" ? "The limit names no source." : `Limit from: ${source}.`;
  return `It should be ${sides.join(" and ")}. ${from}`;
}

function line(words, value) {
  return value === "" ? [] : [`${words}: ${value}`];
}

/** What a caution stands before, such as "bench test of egr-valve". */
function stepInWords(step) {
  const kind = text(step, "kind").replaceAll("_", " ");
  return [kind, text(step, "part")].filter(Boolean).join(" of ");
}

function instrument(item) {
  if (!(item instanceof Map)) return told(item);
  const described = text(item, "description");
  return described === "" ? told(item) : `${text(item, "id")} (${described})`;
}

function opening(event) {
  const vehicle = object(event, "vehicle");
  const customer = object(event, "customer");
  return [
    ...line("Vehicle", [text(vehicle, "description"), text(vehicle, "model_year")]
      .filter(Boolean).join(", ")),
    ...line("VIN", text(vehicle, "vin")),
    ...line("Odometer", text(vehicle, "odometer")),
    ...line("Complaint", text(event, "complaint")),
    ...line("Customer", text(customer, "name")),
    ...line("Shop", text(event, "shop")),
  ];
}

function diagnosis(event) {
  const parts = items(event, "suspect_parts").map((part) =>
    part instanceof Map ? text(part, "name") || text(part, "id") : told(part),
  );
  return [
    ...line("Fault codes", text(event, "codes")),
    ...line("Suspected", parts.join(", ")),
    ...line("Reasoning", text(event, "reasoning")),
  ];
}

function measured(event, result) {
  if (result !== NONE) return `Measured: ${told(result)}`;
  if (items(event, "readings").length === 0) return "No value was measured.";
  return "Its result is computed from the readings: it stands in short above.";
}

function bench(event) {
  const result = object(event, "result");
  return [
    measured(event, result),
    limit(event),
    ...line("Readings", items(event, "readings").map(told).join("; ")),
    ...line("Instruments", items(event, "instruments").map(instrument).join("; ")),
    ...line("Conditions", text(event, "conditions")),
  ];
}

function selfTest(event) {
  return [
    ...line("Result", [text(event, "monitor"), text(event, "outcome")].join(" ")),
    ...line("Value", text(event, "value")),
    ...line("Minimum", text(event, "minimum")),
    ...line("Maximum", text(event, "maximum")),
    "Typed by hand, not read from the vehicle: weaker evidence.",
    ...line("Seen on", text(event, "seen_on")),
  ];
}

/** Kind -> [title, lines]. A kind that is not here is told member by member. */
const TELLERS = {
  opening: (e) => ["The vehicle came in", opening(e)],
  readout: (e) => [
    "The vehicle was read out",
    [...line("Tool", text(e, "tool")), ...line("Protocol", text(e, "protocol"))],
  ],
  diagnosis: (e) => ["Diagnosis", diagnosis(e)],
  caution: (e) => [
    `Caution acknowledged: ${text(e, "caution")}`,
    [
      ...line("Before", stepInWords(object(e, "step"))),
      ...line("Values", text(e, "preconditions")),
    ],
  ],
  bench_test: (e) => [`Bench test of ${text(e, "part")}: ${text(e, "test")}`, bench(e)],
  repair: (e) => [
    `Repair: ${text(e, "part")} ${text(e, "action")}`,
    [
      ...line("Part number", text(e, "part_number")),
      ...line("Old part", text(e, "old_part")),
    ],
  ],
  code_clear: (e) => ["Fault codes were cleared", line("Tool", text(e, "tool"))],
  road_test: (e) => [
    "Road test",
    [
      ...line("Distance", text(e, "distance")),
      ...line("Conditions", text(e, "conditions")),
    ],
  ],
  self_test: (e) => ["Self-test result, typed", selfTest(e)],
  amendment: (e, entryAt) => {
    const which = entryAt(e.get("corrects"));
    const [title, lines] = tell(object(e, "event"), entryAt);
    const head = [...line("Why", text(e, "why")), `Corrected to: ${title}`];
    const when = line("Happened (claimed)", text(object(e, "event"), "at"));
    return [`Correction of ${which}`, [...head, ...when, ...lines]];
  },
  verdict: (e) => [
    `Verdict: ${text(e, "verdict")}`,
    [
      ...line("Closed all the same, with the reason", text(e, "reason")),
      "The signed statement stands in short above.",
    ],
  ],
};
const COMMON = new Set(["kind", "at", "by", "_sd"]);

function otherwise(event) {
  const members = Array.from(event).filter(([name]) => !COMMON.has(name));
  return [told(event.get("kind")), members.map(([name, value]) => `${name}: ${told(value)}`)];
}

/** Title and lines of an event; `entryAt` names the entry at a place of the order. */
function tell(event, entryAt) {
  const kind = event.get("kind");
  const teller = Object.hasOwn(TELLERS, kind) ? TELLERS[kind] : otherwise;
  return teller(event, entryAt);
}

/** The raw text of a readout, or of the one that a correction puts in its place. */
function rawOf(event) {
  const kind = event.get("kind");
  if (kind === "amendment") return rawOf(object(event, "event"));
  return kind === "readout" ? text(event, "raw") : "";
}

/**
 * One step: title, when (claimed), who, lines, raw text and what stays withheld.
 * `later` is the entry that corrects this one, or undefined.
 */
function step(payload, { event, hidden }, entryAt, later) {
  const [title, lines] = tell(event, entryAt);
  const corrected = later === undefined ? [] : [`Corrected later, by entry ${later}.`];
  return {
    seq: payload.seq,
    title,
    when: text(event, "at").replace("T", " "),
    who: payload.by,
    lines: [...corrected, ...lines],
    raw: rawOf(event),
    hidden,
  };
}

function countHidden(value) {
  let hidden = Array.isArray(value.get("_sd")) ? value.get("_sd").length : 0;
  for (const item of value.values()) if (item instanceof Map) hidden += countHidden(item);
  return hidden;
}

/** The story of a packet that holds: `inShort` as signed, and the `steps`. */
function storyOf(found) {
  const own = [...found.payloads.values()].filter((p) => p.repairOrder !== null);
  const judged = own.filter(({ event }) => event.get("kind") !== "verdict");
  // "corrects" counts an order's events from 0, verdicts left out; readers see entries.
  const entryAt = (place) => {
    const there = Number.isInteger(place) ? judged[place] : undefined;
    return there === undefined ? "an entry that is not there" : `entry ${there.seq}`;
  };
  const later = new Map(
    judged
      .filter(({ event }) => event.get("kind") === "amendment")
      .map(({ seq, event }) => [judged[event.get("corrects")]?.seq, seq]),
  );
  return {
    inShort: found.packet.statement,
    steps: own.map((payload) => {
      const bare = { event: payload.event, hidden: countHidden(payload.event) };
      const revealed = found.revealed.get(payload.seq) ?? bare;
      return step(payload, revealed, entryAt, later.get(payload.seq));
    }),
  };
}

export { storyOf };
