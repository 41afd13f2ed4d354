// Recordings: read by the core, or where it does not know their kind, by the browser.

import * as words from "../../words/site.mjs";
import { ask } from "./core.js";
import { at, headline, look, make, say, strings } from "./dom.js";
import { played } from "./played.js";

/** The largest file that is read, in bytes: it is held in memory twice. */
const MOST_BYTES = 400e6;
/** The longest recording that the browser decodes, in seconds: it is held in memory whole. */
const MOST_DECODED_S = 1200;
/** Rate at which the browser decodes, in Hz. */
const DECODED_HZ = 48000;
/** Up to this many takes of a recording stand open. */
const FEW = 3;
/** The smallest letters in a picture of this width are 16 pixels high. */
const PICTURE_PX = 1980;

let next = 0;
/** The recordings of this sitting, by name and size, in order: number in the core, or why there is none. */
const sitting = new Map();
/** What is dropped while others are judged waits. */
let judging = Promise.resolve();

/** The recordings that were checked since the page was opened, each as it was checked last. */
export const checked = () => [...sitting.values()];

/** How long a recording is by the browser, in seconds; NaN where it cannot tell. */
function duration(file) {
  return new Promise((done) => {
    const address = URL.createObjectURL(file);
    const sound = new Audio();
    const end = (seconds) => {
      URL.revokeObjectURL(address);
      done(seconds);
    };
    sound.onloadedmetadata = () => end(sound.duration);
    sound.onerror = () => end(NaN);
    sound.src = address;
  });
}

/** What the browser decodes, as the bytes of a WAV file with all channels, 32 bit float. */
async function decoded(name, file) {
  const seconds = await duration(file);
  if (seconds > MOST_DECODED_S && Number.isFinite(seconds)) {
    throw new Error(words.tooLong(name, MOST_DECODED_S / 60));
  }
  const context = new OfflineAudioContext(1, 1, DECODED_HZ);
  const sound = await context.decodeAudioData(await file.arrayBuffer());
  const channels = sound.numberOfChannels;
  const bytes = 4 * channels * sound.length;
  const wav = new DataView(new ArrayBuffer(44 + bytes));
  const word = (at, letters) => [...letters].forEach((letter, i) => wav.setUint8(at + i, letter.charCodeAt(0)));
  word(0, "RIFF");
  wav.setUint32(4, 36 + bytes, true);
  word(8, "WAVEfmt ");
  wav.setUint32(16, 16, true);
  wav.setUint16(20, 3, true);
  wav.setUint16(22, channels, true);
  wav.setUint32(24, sound.sampleRate, true);
  wav.setUint32(28, sound.sampleRate * 4 * channels, true);
  wav.setUint16(32, 4 * channels, true);
  wav.setUint16(34, 32, true);
  word(36, "data");
  wav.setUint32(40, bytes, true);
  const samples = new Float32Array(wav.buffer, 44);
  for (let channel = 0; channel < channels; channel++) {
    const from = sound.getChannelData(channel);
    for (let i = 0; i < from.length; i++) samples[i * channels + channel] = from[i];
  }
  return new Uint8Array(wav.buffer);
}

/** Opens a file in the core, decoded by the browser where the core cannot read it. */
async function open(number, name, file) {
  if (file.size > MOST_BYTES) {
    throw new Error(words.tooLarge(name, Math.round(file.size / 1e6), MOST_BYTES / 1e6));
  }
  const what = { number, meant: played.meant, name };
  const read = () =>
    file.arrayBuffer().catch(() => {
      throw new Error(words.unreadable(name));
    });
  const bytes = new Uint8Array(await read());
  try {
    return await ask("check", { ...what, bytes }, [bytes.buffer]);
  } catch (own) {
    if (file.size === 0) throw own;
    let wav;
    try {
      wav = await decoded(name, file);
    } catch (theirs) {
      // What the browser says of a file that it cannot decode helps nobody; what it was asked not to do does.
      throw theirs instanceof DOMException ? own : theirs;
    }
    return ask("check", { ...what, bytes: wav }, [wav.buffer]);
  }
}

/** One take: a line that opens. */
function card(number, index, take, isOpen) {
  const signs = take.strings.map((string) => make("span", { className: look(string) }, take.judged ? string.sign : "-", " "));
  const line = make("span", { "aria-hidden": "true" }, ...signs);
  const summary = make("summary", {}, `${take.clock}  `, line, take.brief);
  const body = [make("p", { className: "goal2" }, make("b", {}, headline(take)))];
  if (take.judged) body.push(make("ol", { className: "strings", "aria-label": words.sixStrings }, ...strings(take)));
  for (const advice of take.advice) body.push(make("p", {}, advice.what), make("p", {}, make("b", {}, words.tryThis), advice.try));
  for (const remark of take.remarks) body.push(make("p", {}, remark));
  body.push(make("p", { className: "note" }, words.expected([take.chord, take.frets].filter(Boolean).join(", "), take.clock)));
  const place = make("div", {});
  const play = make("button", { type: "button" }, words.play);
  play.addEventListener("click", async () => {
    const wav = await ask("sound", { number, take: index });
    if (!wav) return place.replaceChildren(make("p", {}, words.soundIsGone));
    const sound = make("audio", { controls: true, src: URL.createObjectURL(new Blob([wav], { type: "audio/wav" })) });
    play.replaceWith(sound);
    sound.play();
    sound.focus();
  });
  const draw = make("button", { type: "button" }, words.show);
  draw.addEventListener("click", async () => {
    const svg = await ask("picture", { number, take: index, width: PICTURE_PX });
    if (!svg) return place.replaceChildren(make("p", {}, words.soundIsGone));
    const drawn = document.importNode(new DOMParser().parseFromString(svg, "image/svg+xml").documentElement, true);
    drawn.setAttribute("role", "img");
    drawn.setAttribute("aria-label", words.inThePictures(take.headline));
    place.replaceChildren(make("div", { className: "plot scroll", tabIndex: 0, role: "region", "aria-label": words.pictures }, drawn));
    draw.hidden = true;
  });
  body.push(make("div", { className: "row" }, play, draw), place);
  return make("details", { className: "take", open: isOpen }, summary, ...body);
}

/** Judges one file and shows each take as soon as it is judged. */
async function judge({ file, name }) {
  const number = next++;
  const which = `${name} ${file.size}`;
  sitting.delete(which);
  const list = make("div", {});
  const state = make("p", {}, words.reading);
  at("results").prepend(make("article", {}, make("h3", {}, name), state, list));
  try {
    const { duration_s } = await open(number, name, file);
    let [count, step] = [0, {}];
    while (!step.ended) {
      step = await ask("step", { number });
      for (const take of step.takes) list.append(card(number, count, take, count++ < FEW));
      const of = Number.isFinite(duration_s) ? Math.round(duration_s) : null;
      at("progress").textContent = words.position(name, Math.round(step.position_s), of);
    }
    state.textContent = step.problem ?? words.takesFound(count);
    if (step.problem) state.className = "trouble";
    sitting.set(which, { number, name });
    dispatchEvent(new CustomEvent("ringtrue-checked", { detail: { name, report: step.report } }));
  } catch (fault) {
    state.textContent = fault.message;
    state.className = "trouble";
    sitting.set(which, { name, why: fault.message });
    dispatchEvent(new CustomEvent("ringtrue-checked", { detail: { name, error: fault.message } }));
  }
  at("progress").textContent = `${name}: ${state.textContent}`;
  changed();
}

/** Who is told when another recording was checked. */
let changed = () => {};

function judgeAll(files) {
  judging = judging.then(async () => {
    for (const file of files) await judge(file);
  });
}

/** Whether a file in a folder may be a recording. */
function mayBeSound(file) {
  const kinds = at("files").accept.split(",");
  const name = file.name.toLowerCase();
  return kinds.some((kind) => (kind.endsWith("/*") ? file.type.startsWith(kind.slice(0, -1)) : name.endsWith(kind)));
}

/** What a folder holds: names, and each a file or a folder in turn. Chromium tells a page on the disk by handles alone, other
 * browsers tell by entries. */
async function* inside({ handle, entry }) {
  if (handle) {
    for await (const one of handle.values()) {
      yield { name: one.name, file: one.kind === "file" ? await one.getFile() : null, handle: one };
    }
    return;
  }
  const reader = entry.createReader();
  // A folder is told in pieces.
  for (;;) {
    const some = await new Promise((done, failed) => reader.readEntries(done, failed));
    if (some.length === 0) return;
    for (const one of some) {
      const file = one.isFile ? await new Promise((done, failed) => one.file(done, failed)) : null;
      yield { name: one.name, file, entry: one };
    }
  }
}

/** Adds the recordings in a folder, and in those within it, to what was found. */
async function search(folder, path, found) {
  const all = [];
  for await (const one of inside(folder)) all.push(one);
  all.sort((a, b) => a.name.localeCompare(b.name, undefined, { numeric: true }));
  for (const one of all) {
    const name = `${path}/${one.name}`;
    if (!one.file) await search(one, name, found);
    else if (mayBeSound(one.file)) found.files.push({ file: one.file, name });
    else found.others += 1;
  }
}

/** The files in what was dropped; of folders those that may be recordings. */
async function dropped(data) {
  // After the first wait the browser has taken what was dropped away.
  const items = [...data.items]
    .filter(({ kind }) => kind === "file")
    .map((item) => ({ file: item.getAsFile(), entry: item.webkitGetAsEntry?.(), handle: item.getAsFileSystemHandle?.().catch(() => null) }));
  const found = { files: [], others: 0 };
  const empty = [];
  for (const { file, entry, handle } of items) {
    if (!entry?.isDirectory) {
      if (file) found.files.push({ file, name: file.name });
      continue;
    }
    const before = found.files.length;
    try {
      await search({ entry, handle: await handle }, entry.name, found);
      if (found.files.length === before) empty.push(entry.name);
    } catch {
      say("trouble", words.cannotReadFolder(entry.name));
    }
  }
  if (empty.length > 0) {
    say("trouble", words.emptyFolders(empty));
  } else if (found.others > 0) {
    say("trouble", words.othersLeftOut(found.others));
  }
  return found.files;
}

/** Makes choosing and dropping work: wherever files are dropped, `show` opens this part, and nothing else is opened in the
 * page's place. `then` is called after each recording. */
export function begin(show, then) {
  changed = then;
  const drop = at("drop");
  at("files").addEventListener("change", ({ target }) => {
    const files = [...target.files].map((file) => ({ file, name: file.name }));
    target.value = "";
    say("trouble", null);
    judgeAll(files);
  });
  for (const name of ["dragenter", "dragover", "dragleave", "drop"]) {
    document.addEventListener(name, async (event) => {
      if (!event.dataTransfer?.types.includes("Files")) return;
      event.preventDefault();
      drop.classList.toggle("over", name === "dragenter" || name === "dragover");
      if (name !== "drop") return;
      say("trouble", null);
      show();
      judgeAll(await dropped(event.dataTransfer));
    });
  }
}
