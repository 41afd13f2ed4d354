// The microphone: asked for, listened to, shown.

import * as words from "../../words/site.mjs";
import { addWorklet, ask, on } from "./core.js";
import { at, headline, look, make, remember, remembered, say, strings } from "./dom.js";
import { picture } from "./picture.js";
import { played } from "./played.js";
import * as store from "./store.js";

/** Takes beside each other in the history. */
const HISTORY = 10;
/** Takes that can still change, or whose sound may still come, are among the last ones. */
const REMEMBERED = 50;
/** The level is shown from here up, in dBFS. */
const LOWEST_DBFS = -60;
/** Sound of the page itself is heard so much longer than it plays, in seconds: as in the program. */
const ROUND_TRIP_S = 0.6;
/** A device that is so far behind cannot follow, in ms. */
const BEHIND_MS = 2000;
/** What the browser would do to the sound: it takes ringing strings for noise. */
const FILTERS = Object.keys(words.filters);

let context = null;
let stream = null;
let screenLock = null;
/** Whether listening ended, or never began, for want of a microphone. */
let missing = false;
/** When the first sample came, by the context's clock in seconds. */
let first = null;
/** Settled takes, the oldest first: number, view, key in the diary. */
let takes = [];
let shown = 0;
/** The lesson that leads, as its text; null where none does. */
let lesson = null;
/** The part of the page that is open. */
let part = "listen";
/** Takes are written one after the other. */
let writing = Promise.resolve();

/** Why there is no microphone, and what to do. */
function sentence(fault) {
  switch (fault.name) {
    case "NotAllowedError":
    case "SecurityError":
      return words.notAllowed;
    case "NotFoundError":
    case "OverconstrainedError":
      return words.noMicrophone;
    case "NotReadableError":
    case "AbortError":
      return words.inUse;
    default:
      return words.doesNotWork(fault.message);
  }
}

/** Asks for the microphone and listens, led by a lesson where one is given. */
async function start(text) {
  say("trouble", null);
  if (stream) await stop();
  if (!navigator.mediaDevices?.getUserMedia) {
    say("trouble", words.notHere);
    return;
  }
  at("start").disabled = true;
  lesson = text;
  const raw = Object.fromEntries(FILTERS.map((name) => [name, false]));
  try {
    stream = await navigator.mediaDevices.getUserMedia({ audio: { ...raw, channelCount: 1 } }).catch((fault) => {
      missing = fault.name === "NotFoundError";
      throw new Error(sentence(fault));
    });
    missing = false;
    await follow();
    board(true);
  } catch (fault) {
    say("trouble", fault.message);
    await stop();
  }
  at("start").disabled = false;
}

/** Leads the microphone's samples to the worker. */
async function follow() {
  const [track] = stream.getAudioTracks();
  const settings = track.getSettings();
  const on = FILTERS.filter((name) => settings[name] === true);
  say("filters", on.length === 0 ? null : words.filtersOn(on.map((name) => words.filters[name])));
  context = new AudioContext({ latencyHint: "interactive" });
  await addWorklet(context);
  await context.resume();
  const { port1, port2 } = new MessageChannel();
  takes = [];
  first = null;
  const seed = Math.floor(Math.random() * 2 ** 32);
  const begun = await ask("listen", { meant: played.meant, lesson, seed, rate: context.sampleRate, began: Date.now(), from: port1, sounds: at("keep").checked }, [port1]);
  const node = new AudioWorkletNode(context, "samples", { numberOfInputs: 1, numberOfOutputs: 0, channelCount: 1, channelCountMode: "explicit" });
  node.port.onmessage = ({ data }) => (first = data.first);
  node.onprocessorerror = () => gone(words.soundStopped);
  node.port.postMessage({ to: port2 }, [port2]);
  context.createMediaStreamSource(stream).connect(node);
  track.onended = () => unplugged();
  track.onmute = () => say("silence", words.switchedOff);
  track.onunmute = () => say("silence", null);
  context.onstatechange = () => {
    if (context && context.state !== "running") say("silence", words.paused);
  };
  clear(begun);
  // The screen of a phone on a stand stays on, where the browser knows how.
  screenLock = await navigator.wakeLock?.request("screen").catch(() => null);
}

/** Whether this microphone is still there, and whether there is one again: where the browser does not say so of the track. */
async function devices() {
  const track = stream?.getAudioTracks()[0];
  const all = (await navigator.mediaDevices.enumerateDevices()).filter(({ kind }) => kind === "audioinput");
  const id = track?.getSettings().deviceId;
  if (track && id && all.every(({ deviceId }) => deviceId && deviceId !== id)) return unplugged();
  if (!stream && missing && all.length > 0) {
    missing = false;
    say("trouble", words.thereNow);
  }
}

async function unplugged() {
  await gone(words.gone);
  missing = true;
}

async function gone(why) {
  await stop();
  say("trouble", why);
}

/** Ends listening. What was heard stays. */
export async function stop() {
  const [oldContext, oldStream] = [context, stream];
  [context, stream] = [null, null];
  for (const track of oldStream?.getTracks() ?? []) {
    track.onended = track.onmute = null;
    track.stop();
  }
  if (oldContext) {
    oldContext.onstatechange = null;
    const results = await ask("stop").catch(() => null);
    if (results) cameOut(results);
    await oldContext.close();
  }
  await screenLock?.release().catch(() => {});
  screenLock = null;
  await writing;
  board(false);
  if (!at("came-out").hidden) at("board").scrollIntoView({ block: "start" });
}

/** Shows the board, or the way to it. */
function board(listening) {
  at("before").hidden = at("start").hidden = listening && !lesson;
  at("offer").hidden = listening && Boolean(lesson);
  for (const id of ["stop", "clean"]) at(id).hidden = !listening;
  at("leave").hidden = !listening || !lesson;
  at("stop").textContent = lesson ? words.stopLesson : words.stopListening;
  open(part);
  at("level").closest("p").hidden = !listening;
  if (listening) at("board").scrollIntoView({ block: "start" });
}

/** Shows the board where it belongs to the part of the page that is open. */
export function open(name) {
  part = name;
  at("keeping").hidden = Boolean(stream) || (name !== "listen" && name !== "practise");
  const ours = name === (lesson ? "practise" : "listen");
  at("board").hidden = !ours || !(stream || takes.length > 0 || lesson);
}

/** What a lesson or the fields above ask for. */
function goal(text, voicing) {
  at("now").textContent = text;
  at("picture").replaceChildren(...(voicing ? [picture(voicing, played.left)] : []));
}

function cameOut(results) {
  for (const id of ["step", "say", "status", "note"]) say(id, null);
  goal(words.cameOut, null);
  at("advice").textContent = "";
  at("strings").replaceChildren();
  at("came-out").hidden = false;
  at("came-out").querySelector("pre").textContent = results;
}

/** An empty board for what is played now. */
function clear({ opening, advice, goal: text }) {
  shown = 0;
  const [title, about] = opening ?? [];
  say("step", title);
  say("say", about);
  say("note", null);
  say("status", null);
  at("came-out").hidden = true;
  goal(title ? "" : text, title ? null : played.voicing);
  at("clean").disabled = Boolean(title) || !played.voicing;
  at("strings").replaceChildren();
  at("advice").textContent = advice;
  say("silence", null);
  history();
}

/** Another chord is meant from now on. */
export async function expect() {
  if (lesson) return;
  const board = await ask("expect", { meant: played.meant });
  if (!board) return;
  takes = [];
  clear(board);
}

function show(number, take, settled, board) {
  if (number < shown) return;
  shown = number;
  at("strings").className = settled ? "strings" : "strings guess";
  at("strings").replaceChildren(...strings(take));
  at("strings").hidden = !take.judged;
  at("advice").textContent = take.judged ? board.advice : headline(take);
  // A guess is for the eye; the verdict is read aloud, once.
  if (settled) at("aloud").textContent = take.judged ? `${take.headline} ${board.advice === take.headline ? "" : board.advice}` : headline(take);
  // For those who measure: from the strum to what stands here, by the clock of the sound.
  const delay_s = context && first !== null ? context.currentTime - first - take.start_s : NaN;
  dispatchEvent(new CustomEvent("ringtrue", { detail: { number, settled, delay_s, verdicts: take.strings.map((s) => s.verdict), start_s: take.start_s } }));
}

/** Takes what the listener said of a number back. */
function forget(number) {
  const old = takes.find((take) => take.number === number);
  takes = takes.filter((take) => take !== old);
  if (old) write(async () => (await old.key) && store.remove(await old.key));
}

function write(act) {
  writing = writing.then(act).then(() => {
    if (store.trouble) say("trouble", store.trouble);
  });
  return writing;
}

/** What happens in a lesson. */
function led(event) {
  switch (event.word) {
    case "step":
      say("step", event.text);
      say("say", event.say);
      break;
    case "asked":
      goal(event.text, event.picture);
      break;
    case "took":
      say("note", words.counted(event.done, event.of, event.note, event.gap_s));
      break;
    case "end":
      cameOut(event.results);
      stop();
      break;
    default:
      say("note", event.text);
  }
}

/** Keeps the sound of a take that the diary has. */
function keepSound({ number, sound }) {
  const take = takes.find((take) => take.number === number);
  if (!take || !sound) return;
  write(async () => {
    const key = await take.key;
    if (key) await store.keepSound(key, sound);
  });
}

function hear({ news, board }) {
  news.lesson.forEach(led);
  for (const said of news.heard) {
    if (said.word === "over") {
      keepSound(said);
      continue;
    }
    forget(said.number);
    if (said.word === "withdrawn") {
      if (said.number === shown) {
        at("strings").replaceChildren();
        at("advice").textContent = board.advice;
      }
      continue;
    }
    const settled = said.word === "settled";
    show(said.number, said.take, settled, board);
    if (!settled) continue;
    let done;
    takes.push({ number: said.number, take: said.take, key: new Promise((one) => (done = one)) });
    takes = takes.slice(-REMEMBERED);
    // In a lesson the diary keeps what counts for it.
    write(async () => done(said.entry && (await store.keep(said.entry))));
  }
  history();
}

/** A row for each string, a column for each of the last takes, the newest on the right. */
function history() {
  const last = takes.filter(({ take }) => take.judged).slice(-HISTORY);
  const rows = [0, 1, 2, 3, 4, 5].map((index) => {
    const cells = last.map(({ take }) => {
      const string = take.strings[index];
      return make("td", {}, make("span", { className: look(string), title: string.word }, string.sign, make("span", { className: "hidden" }, ` ${string.word}`)));
    });
    while (cells.length < HISTORY) cells.unshift(make("td", {}, "·"));
    return make("tr", {}, make("th", { scope: "row" }, words.string(6 - index)), ...cells);
  });
  at("history").querySelector("tbody").replaceChildren(...rows);
}

function level({ dbfs, word, silence, late_ms, status }) {
  say("status", status);
  at("level").value = Math.max(0, dbfs - LOWEST_DBFS);
  at("level-word").textContent = word;
  if (silence) say("silence", silence);
  else if (late_ms > BEHIND_MS) say("silence", words.tooSlow);
  else if (!stream?.getAudioTracks()[0]?.muted) say("silence", null);
}

/** Plays how the clean chord sounds; while it does, nothing is judged. */
async function reference() {
  const samples = await ask("reference", { meant: played.meant, rate: context.sampleRate });
  if (samples.length === 0) return;
  const buffer = context.createBuffer(1, samples.length, context.sampleRate);
  buffer.copyToChannel(samples, 0);
  const source = new AudioBufferSourceNode(context, { buffer });
  source.connect(context.destination);
  await ask("ignore", { seconds: buffer.duration + ROUND_TRIP_S });
  source.start();
}

/** The lessons to choose from. */
async function offer() {
  const lessons = await ask("lessons");
  at("lessons").replaceChildren(
    ...lessons.map(({ title, about, text }) => {
      const begin = make("button", { type: "button" }, words.beginLesson);
      begin.addEventListener("click", () => start(text));
      return make("div", { className: "take" }, make("h3", {}, title), about && make("p", {}, about), begin);
    }),
  );
}

/** Makes the buttons work. */
export async function begin() {
  on.news = hear;
  on.level = level;
  at("start").addEventListener("click", () => start(null));
  at("leave").addEventListener("click", () => ask("leave"));
  at("lesson-file").addEventListener("change", async ({ target }) => {
    const [file] = target.files;
    target.value = "";
    if (file) await start(await file.text());
  });
  await offer();
  at("stop").addEventListener("click", stop);
  at("keep").checked = remembered("keep", false) === true;
  at("keep").addEventListener("change", ({ target }) => remember("keep", target.checked));
  navigator.mediaDevices?.addEventListener("devicechange", devices);
  at("clean").addEventListener("click", reference);
  history();
  at("start").disabled = false;
}
