// The page: its parts, and what joins them.

import * as words from "../../words/site.mjs";
import * as check from "./check.js";
import * as core from "./core.js";
import * as diary from "./diary.js";
import { at, look, make, say } from "./dom.js";
import * as listen from "./listen.js";
import * as played from "./played.js";
import * as store from "./store.js";
import * as teacher from "./teacher.js";

const PARTS = ["listen", "check", "practise", "diary"];

function open(part) {
  for (const one of PARTS) at(one).hidden = one !== part;
  listen.open(part);
  teacher.open(part);
  for (const button of document.querySelectorAll("nav button")) {
    if (button.dataset.part === part) button.setAttribute("aria-current", "page");
    else button.removeAttribute("aria-current");
  }
  if (part === "diary") {
    diary.show().catch((fault) => say("trouble", fault.message));
    store.persist().then((sentence) => (at("persist").textContent = sentence));
  }
}

async function begin() {
  const about = await core.begin();
  document.fonts.add(new FontFace(about.font_name, about.font));
  at("version").textContent = about.version;
  at("care").textContent = about.care;
  at("licences").textContent = about.licences;
  at("signs").append(...about.verdicts.map((one) => make("li", {}, make("span", { className: look(one) }, one.sign), ` ${one.word}`)));
  core.on.broken = async () => {
    await listen.stop();
    say("trouble", words.begunAnew);
  };
  for (const button of document.querySelectorAll("nav button")) button.addEventListener("click", () => open(button.dataset.part));
  await played.begin(listen.expect);
  check.begin(
    () => open("check"),
    () => at("check").hidden || teacher.open("check"),
  );
  diary.begin();
  teacher.begin();
  await listen.begin();
  addEventListener("beforeunload", (event) => {
    if (store.wouldLose()) event.preventDefault();
  });
  at("state").textContent = words.ready;
  document.documentElement.dataset.ready = "yes";
}

begin().catch((fault) => {
  at("state").textContent = "";
  say("trouble", words.cannotRun(fault.message));
});
