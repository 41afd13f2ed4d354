// The page for the teacher: the one that `ringtrue report` makes, of the diary or of the recordings that were checked.

import * as words from "../../words/site.mjs";
import { ask } from "./core.js";
import { at, carefully, remember, remembered, save, say, today } from "./dom.js";
import { played } from "./played.js";
import * as check from "./check.js";
import * as store from "./store.js";

/** What was typed here, and the numbers of the pages before: "diary" or "recordings" to numbers and moment. */
const PLACE = "teacher";
const DAY_MS = 86_400_000;
const WEEK_DAYS = 7;
/** "2 March 2026", as the page has it. */
const DAY = { day: "numeric", month: "long", year: "numeric" };

let kept = remembered(PLACE, {});
/** What the page is made of: "diary" or "recordings". */
let source = "diary";

function keep(more) {
  kept = { ...kept, ...more };
  remember(PLACE, kept);
}

/** Shows what there is to make a page of. */
export function open(part) {
  source = part === "check" ? "recordings" : "diary";
  const last = kept[source];
  at("teacher").hidden = !(part === "diary" || (part === "check" && check.checked().length > 0));
  at("teacher-of").textContent =
    source === "diary" ? words.ofDiary : words.ofRecordings;
  at("span").closest("label").hidden = source !== "diary";
  at("span").querySelector("[value=last]").disabled = !last;
  say("last", last ? words.lastMade(new Date(last.at).toLocaleDateString(words.language, DAY)) : null);
}

/** The takes of the diary that are asked for, as lines, and where the sound of each one is. */
async function lines() {
  const from = { all: -Infinity, week: Date.now() - WEEK_DAYS * DAY_MS, last: kept.diary?.at ?? -Infinity }[at("span").value];
  const takes = (await store.all()).filter((take) => Date.parse(take.at) > from);
  if (takes.length === 0) {
    throw new Error(from === -Infinity ? words.noTake : words.noTakeThen);
  }
  const heard = await store.withSound();
  const sounds = new Map();
  const all = takes.map((take) => {
    const key = [take.at, take.frets];
    if (!heard.has(JSON.stringify(key))) return { ...take, sound: null };
    // As the program names them.
    const sound = `${take.at.replace(/[-:Z]/g, "").replace(/[T.]/g, "-")}.wav`;
    sounds.set(sound, key);
    return { ...take, sound };
  });
  return { lines: all.map((take) => JSON.stringify(take)).join("\n"), sounds };
}

async function makePage() {
  const tell = (text) => (at("made").textContent = text);
  const from = source;
  tell(words.summingUp);
  const learner = at("learner").value;
  keep({ learner });
  const begun = { meant: played.meant, learner, last: kept[from]?.numbers ?? "" };
  const { lines: diary, sounds } = from === "diary" ? await lines() : { lines: "", sounds: new Map() };
  const recordings = from === "recordings" ? check.checked() : [];
  const wanted = await ask("gather", { ...begun, diary, recordings });
  let [done, missing] = [0, 0];
  for (const { take, sound } of wanted) {
    done += 1;
    tell(words.drawing(done, wanted.length));
    try {
      const bytes = from === "diary" ? await store.sound(sounds.get(sound)) : null;
      await ask("show", { take, sound, bytes });
    } catch {
      missing += 1;
    }
  }
  tell(words.writing);
  const { page, numbers } = await ask("page");
  keep({ [from]: { numbers, at: Date.now() } });
  const name = `ringtrue-report-${today()}.html`;
  const again = save(name, [page], "text/html");
  const size = Math.max(1, Math.round(page.length / 1e5)) / 10;
  at("made").replaceChildren(words.made(name, size, missing), again);
  dispatchEvent(new CustomEvent("ringtrue-made", { detail: { page, name } }));
}

/** Makes the button work. */
export function begin() {
  at("learner").value = String(kept.learner ?? "");
  at("span").value = kept.diary ? "last" : "all";
  at("make").addEventListener("click", async (event) => {
    at("make").disabled = true;
    await carefully(makePage)(event);
    if (!at("trouble").hidden) at("made").textContent = "";
    at("make").disabled = false;
    open(source === "diary" ? "diary" : "check");
  });
}
