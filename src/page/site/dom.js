// Small helpers for what is on the page.

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

/** The six strings of a take. What is as it should be is small. */
export function strings(take) {
  return take.strings.map((string) => {
    const kind = look(string);
    const wordy = string.phrase !== string.word && kind !== "fine";
    const word = make("span", { className: "word" }, take.judged || string.verdict !== "unsure" ? string.word : "");
    if (wordy && take.judged) word.append(make("span", { className: "more" }, string.phrase));
    return make(
      "li",
      { className: kind },
      make("span", { className: "number" }, String(string.string)),
      sign(string),
      word,
    );
  });
}
