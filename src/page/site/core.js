// The core: unpacked once, run in a worker, asked by message.

import * as words from "../../words/site.mjs";
import { fromLetters } from "./letters.mjs";

const text = (id) => document.getElementById(id).textContent;
const address = (source) => URL.createObjectURL(new Blob([source], { type: "text/javascript" }));

/** Puts the bytes of numbers together again: all their first bytes come first, then all their second ones, and so on. */
function joined(planes, width) {
  const count = planes.length / width;
  const all = new Uint8Array(planes.length);
  for (let plane = 0; plane < width; plane++) {
    for (let i = 0; i < count; i++) all[width * i + plane] = planes[plane * count + i];
  }
  return all;
}

/** The core's code and the licences, as scripts/page has packed them: a list of pieces, those with a width are numbers of
 * so many bytes; the pieces; the licences. */
async function unpacked() {
  const packed = new Blob([fromLetters(text("core"))]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  const all = new Uint8Array(await new Response(packed).arrayBuffer());
  const read = (from, to) => new TextDecoder().decode(all.subarray(from, to));
  const head = new DataView(all.buffer).getUint32(0, true);
  const pieces = JSON.parse(read(4, 4 + head));
  const core = new Uint8Array(pieces.reduce((sum, piece) => sum + piece.bytes, 0));
  let from = 4 + head;
  let to = 0;
  for (const piece of pieces) {
    const part = all.subarray(from, from + piece.bytes);
    core.set(piece.width > 1 ? joined(part, piece.width) : part, to);
    from += piece.bytes;
    to += piece.bytes;
  }
  return { core, licences: read(from) };
}

let worker;
let next = 0;
const asked = new Map();
/** Who is told what the microphone brings. */
export const on = { news() {}, level() {}, broken() {} };

/** Asks the core; gives its answer, or fails with its sentence. */
export function ask(call, what = {}, handed = []) {
  const id = next++;
  return new Promise((done, failed) => {
    asked.set(id, { done, failed });
    worker.postMessage({ id, call, ...what }, handed);
  });
}

function hear({ data }) {
  if (data.broken) {
    begin().then(() => on.broken(data.broken));
  }
  if (data.news) return on.news(data);
  if (data.level) return on.level(data.level);
  const waiting = asked.get(data.id);
  asked.delete(data.id);
  if (!waiting) return;
  if ("error" in data) waiting.failed(new Error(data.error));
  else waiting.done(data.value);
}

let held;

/** Starts the core, or starts it anew where it broke; gives what it says of itself, and the licences. */
export async function begin() {
  worker?.terminate();
  for (const { failed } of asked.values()) failed(new Error(words.askAgain));
  asked.clear();
  held ??= await unpacked();
  worker = new Worker(address(text("worker")));
  worker.onmessage = hear;
  return { ...(await ask("begin", { core: held.core })), licences: held.licences };
}

/** Adds the worklet that listens to a context. From a page on the disk a browser loads no module by a blob's address. */
export async function addWorklet(context) {
  await context.audioWorklet.addModule(`data:text/javascript,${encodeURIComponent(text("worklet"))}`);
}
