// What is played, and how the guitar is tuned: asked once for all parts of the page.

import * as words from "../../words/site.mjs";
import { ask } from "./core.js";
import { at, make, remember, remembered, say } from "./dom.js";
import { picture } from "./picture.js";

const FIELDS = ["chord", "frets", "tuning", "capo", "left"];
const PLACE = "played";
/** After the last letter typed, in ms. */
const PAUSE_MS = 400;

/** What was typed, as the core reads it. */
export const played = {
  meant: JSON.stringify({}),
  left: false,
  /** The voicing meant; null where there are several or any. */
  voicing: null,
  goal: words.anyChord,
};

let changed = () => {};

function typed() {
  return {
    chord: at("chord").value,
    frets: at("frets").value,
    tuning: at("tuning").value,
    capo: Math.trunc(Number(at("capo").value)) || 0,
  };
}

/** The voicings of a chord whose shape is open, to choose from by picture. */
function offer(voicings) {
  at("choose").hidden = voicings.length < 2;
  at("pictures").replaceChildren(
    ...voicings.map((voicing) => {
      const choose = make("button", { type: "button" }, picture(voicing, played.left), voicing.frets);
      choose.addEventListener("click", () => {
        at("frets").value = voicing.frets;
        look();
      });
      return choose;
    }),
  );
}

/** Reads the fields anew and tells the rest of the page. */
async function look() {
  const fields = typed();
  const meant = JSON.stringify(fields);
  try {
    const { chord, voicings } = await ask("voicings", { meant });
    say("wrong", null);
    played.meant = meant;
    played.left = at("left").checked;
    played.voicing = voicings.length === 1 ? voicings[0] : null;
    const one = played.voicing;
    played.goal = one ? [one.chord, one.frets].filter(Boolean).join("  ") : chord ? words.anyShape(chord) : words.anyKnownChord;
    at("goal").textContent = played.goal;
    offer(voicings);
    remember(PLACE, { ...fields, left: played.left });
    await changed();
  } catch (fault) {
    say("wrong", fault.message);
  }
}

/** Puts the fields back as they were left, and calls `then` after every change. */
export async function begin(then) {
  const before = remembered(PLACE, {});
  for (const field of ["chord", "frets", "tuning"]) at(field).value = String(before[field] ?? "");
  at("capo").value = String(Number(before.capo) || 0);
  at("left").checked = before.left === true;
  changed = then;
  let pause;
  for (const field of FIELDS) {
    at(field).addEventListener("input", () => {
      // Another chord has other frets, and other frets are another chord.
      if (field === "chord") at("frets").value = "";
      if (field === "frets" && at("frets").value) at("chord").value = "";
      clearTimeout(pause);
      pause = setTimeout(look, PAUSE_MS);
    });
  }
  await look();
}
