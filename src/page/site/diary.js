// The diary: what the takes amount to, and its way out and in.

import * as words from "../../words/site.mjs";
import { ask } from "./core.js";
import { at, carefully, make, save as handOut, say, today } from "./dom.js";
import * as store from "./store.js";

/** Rows of a table; more would not be read. */
const MOST = 12;
const percent = (share) => `${Math.round(100 * share)} %`;

function table(caption, first, lines) {
  const rows = lines.slice(0, MOST).map((line) =>
    make(
      "tr",
      {},
      make("th", { scope: "row" }, line.name),
      make("td", { className: "number" }, String(line.takes)),
      make("td", { className: "number" }, line.takes > 0 ? percent(line.clean / line.takes) : "–"),
      make("td", { className: "number" }, line.takes > 0 ? words.fromTo(...line.sure.map((s) => Math.round(100 * s))) : "–"),
    ),
  );
  const head = [first, words.heads.takes, words.heads.clean, words.heads.sure].map((name) => make("th", { scope: "col" }, name));
  return make(
    "div",
    { className: "scroll", tabIndex: 0, role: "region", "aria-label": caption },
    make("table", {}, make("caption", {}, caption), make("thead", {}, make("tr", {}, ...head)), make("tbody", {}, ...rows)),
  );
}

/** Shows the diary as it is now. */
export async function show() {
  const takes = await store.all();
  at("kept").textContent = words.inDiary(takes.length);
  if (store.trouble) say("trouble", store.trouble);
  at("export").disabled = at("forget").disabled = takes.length === 0;
  if (takes.length === 0) {
    at("told").replaceChildren();
    return;
  }
  const lines = takes.map((take) => JSON.stringify(take)).join("\n");
  const { next, days, chords } = await ask("progress", { lines, now: Date.now() });
  const told = [];
  if (next.length > 0) {
    told.push(make("h3", {}, words.takeUpNext), make("ol", {}, ...next.map((one) => make("li", {}, one))));
  }
  told.push(table(words.byChord, words.heads.chord, chords), table(words.byDay, words.heads.day, days));
  told.push(make("p", { className: "note" }, words.whatTheTablesSay));
  at("told").replaceChildren(...told);
}

/** Hands the diary out as a file. */
async function save() {
  const takes = await store.all();
  const lines = takes.map((take) => JSON.stringify(take) + "\n");
  handOut(`ringtrue-diary-${today()}.jsonl`, lines, "application/jsonl");
  at("kept").textContent = words.saved(takes.length);
}

async function takeIn(file) {
  const text = await ask("import", { name: file.name, text: await file.text() });
  const entries = text
    .split("\n")
    .filter(Boolean)
    .map((line) => JSON.parse(line));
  const added = await store.keepAll(entries);
  await show();
  at("kept").textContent = words.takenIn(added, entries.length);
}

/** Makes the buttons work. */
export function begin() {
  const askFirst = (asking) => {
    at("forget-ask").hidden = !asking;
    at("forget").hidden = asking;
  };
  at("export").addEventListener("click", carefully(save));
  at("import").addEventListener("change", carefully(async ({ target }) => {
    const [file] = target.files;
    target.value = "";
    if (file) await takeIn(file);
  }));
  at("forget").addEventListener("click", () => (askFirst(true), at("forget-no").focus()));
  at("forget-no").addEventListener("click", () => (askFirst(false), at("forget").focus()));
  at("forget-yes").addEventListener("click", carefully(async () => {
    await store.forget();
    askFirst(false);
    await show();
  }));
}
