// Small helpers for what is on the page.

import * as words from "../../words/site.mjs";

export const at = (id) => document.getElementById(id);

/** An element with properties and children; what is undefined is left out. */
export function make(name, properties = {}, ...children) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(properties)) {
    if (value === undefined) continue;
    if (key in element) element[key] = value;
    else element.setAttribute(key, value);
  }
  element.append(...children.filter((child) => child !== undefined && child !== null));
  return element;
}

/** Shows a sentence, or takes it away where there is none. */
export function say(id, sentence) {
  const place = at(id);
  place.textContent = sentence ?? "";
  place.hidden = !sentence;
}

/** A sign with its word for those who hear the page. */
export function sign(string) {
  const shown = make("span", { className: "sign " + look(string) });
  const hidden = make("span", {}, string.sign);
  hidden.setAttribute("aria-hidden", "true");
  shown.append(hidden);
  return shown;
}

export const look = ({ verdict, fault }) => (fault ? "fault" : verdict === "unsure" ? "open" : "fine");

/** The sentence to read first, and where a shape is to be chosen, how. */
export const headline = (take) =>
  take.choice.length > 0 ? words.chooseShape(take.headline) : take.headline;

/** The six strings of a take. What is as it should be is small. */
export function strings(take) {
  return take.strings.map((string) => {
    const kind = look(string);
    // "wrong fret: 3, not 5": the first words large, the others small. Of what is right only what is off is told.
    const [first, ...more] = string.phrase.split(/[:,] /);
    const plain = kind === "fine" && string.verdict !== "clean";
    const word = make("span", { className: "word" }, plain ? string.word : first);
    if (more.length > 0 && !plain) word.append(make("span", { className: "more" }, string.phrase.slice(first.length + 2)));
    return make(
      "li",
      { className: kind },
      make("span", { className: "number" }, String(string.string)),
      sign(string),
      word,
    );
  });
}

/** Hands a file out under a name; gives a link that does it again. */
export function save(name, parts, type) {
  const link = make("a", { href: URL.createObjectURL(new Blob(parts, { type })), download: name }, words.saveAgain);
  document.body.append(link);
  link.click();
  link.remove();
  return link;
}

/** Calls `act`; where that fails, shows why. */
export const carefully = (act) => async (event) => {
  say("trouble", null);
  try {
    await act(event);
  } catch (fault) {
    say("trouble", fault.message);
  }
};

/** What was kept for small things under this name, or `otherwise`; where storage is refused it is asked for again next time. */
export function remembered(name, otherwise) {
  try {
    return JSON.parse(localStorage.getItem(`ringtrue.${name}`)) ?? otherwise;
  } catch {
    return otherwise;
  }
}

/** Keeps a small thing. */
export function remember(name, what) {
  try {
    localStorage.setItem(`ringtrue.${name}`, JSON.stringify(what));
  } catch {
    // As above.
  }
}

/** Today, as file names have it. */
export const today = () => new Date().toISOString().slice(0, 10);
