// Called by scripts/page-test: TOOLS RINGTRUE PAGE PICTURES [PART [MINUTES]]. Opens the page in a real browser, as players do.
import { execFileSync } from "node:child_process";
import { copyFileSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { basename, join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { check, end } from "./checks.mjs";

const [tools, ringtrue, file, pictures, only, minutes] = process.argv.slice(2).map((path, i) => (i < 4 ? resolve(path) : path));
const need = createRequire(join(tools, "package.json"));
const puppeteer = await import(pathToFileURL(need.resolve("puppeteer-core")));
const axe = readFileSync(need.resolve("axe-core/axe.min.js"), "utf8");
const address = pathToFileURL(file).href;
const work = mkdtempSync(join(tmpdir(), "page-test-"));
mkdirSync(pictures, { recursive: true });

/** On a busy machine one call to the browser has taken more than the usual three minutes. */
const PATIENCE_MS = 600_000;
/** Probabilities may differ by so much from the program's, as its JSON has them, to three decimals. */
const ALIKE = 0.001 + 1e-9;
/** Cents and decibels have one decimal there. */
const ALIKE_COARSE = 0.1 + 1e-9;
const WIDTHS = [320, 390, 1200];
/** So long is listened to without a pause, in minutes of sound; an hour where that is asked for. */
const LONG_MIN = Number(minutes ?? 5);
/** What a user can type must come out as text. */
const HOSTILE = `<img src=x onerror="window.broken=1">"'&amp;{{7*7}}</script>`;

const FLAGS = [
  "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
  "--disable-component-update", "--disable-sync", "--mute-audio", "--autoplay-policy=no-user-gesture-required",
];
let profiles = 0;
/** A browser of its own, with a new profile and these flags besides. */
function launch(flags, profile = join(work, `profile-${profiles++}`)) {
  return puppeteer.launch({
    protocolTimeout: PATIENCE_MS,
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    userDataDir: profile,
    args: [...FLAGS, ...flags],
  });
}
const hearing = (wav) => [
  "--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream", `--use-file-for-fake-audio-capture=${wav}`,
];

/** Opens the page; what the browser complains of and what is asked of a network is noted. */
async function open(browser, { width = 390, height = 844, scheme = "light", before } = {}) {
  const page = await browser.newPage();
  page.setDefaultTimeout(Number(process.env.PATIENCE_MS ?? PATIENCE_MS));
  await page.setViewport({ width, height });
  await page.emulateMediaFeatures([{ name: "prefers-color-scheme", value: scheme }]);
  const noise = [];
  page.on("console", (message) => noise.push(`${message.type()}: ${message.text()}`));
  page.on("pageerror", (error) => noise.push(`error: ${error.message}`));
  page.on("request", (request) => {
    if (request.url() !== address && !/^(blob|data):/.test(request.url())) noise.push(`request: ${request.url()}`);
  });
  if (before) await page.evaluateOnNewDocument(before);
  await page.evaluateOnNewDocument(() => {
    window.heard = [];
    window.checked = [];
    addEventListener("ringtrue", ({ detail }) => window.heard.push(detail));
    addEventListener("ringtrue-checked", ({ detail }) => window.checked.push(detail));
    addEventListener("ringtrue-made", ({ detail }) => (window.made = detail));
  });
  const began = performance.now();
  await page.goto(address, { waitUntil: "load" });
  await page.waitForFunction(() => document.documentElement.dataset.ready || !document.getElementById("trouble").hidden);
  return { page, noise, ready_s: (performance.now() - began) / 1000 };
}

const part = (page, name) => page.click(`nav [data-part="${name}"]`);
const read = (page, id) => page.$eval(`#${id}`, (e) => (e.hidden || !e.checkVisibility() ? "" : e.textContent));
const shot = (page, name, fullPage = true) => page.screenshot({ path: join(pictures, `${name}.png`), fullPage });

/** Says what is played, and waits until the page has understood. */
async function mean(page, fields) {
  await page.$eval("#played", (e) => (e.open = true));
  for (const [id, text] of Object.entries(fields)) {
    await page.$eval(`#${id}`, (e, text) => {
      e.value = text;
      e.dispatchEvent(new Event("input"));
    }, text);
  }
  const wanted = fields.frets || fields.chord;
  await page.waitForFunction((wanted) => document.getElementById("goal").textContent.includes(wanted), {}, wanted);
}

/** Hands files to "Check a recording" and waits until all are judged. */
async function recordings(page, files) {
  await part(page, "check");
  const before = await page.evaluate(() => window.checked.length);
  const input = await page.$("#files");
  await input.uploadFile(...files);
  await page.waitForFunction((n) => window.checked.length >= n, {}, before + files.length);
  return page.evaluate((n) => window.checked.slice(n), before);
}

/** What the program says of a recording. */
function program(recording, options) {
  try {
    return JSON.parse(execFileSync(ringtrue, ["check", recording, "--json", ...options], { maxBuffer: 1 << 27 }));
  } catch (fault) {
    if (!fault.stdout?.length) throw fault;
    return JSON.parse(fault.stdout); // 1: a string is not as it should be
  }
}

/** Every difference between two takes that is more than rounding; and the largest one of the probabilities. */
function differences(mine, theirs) {
  const found = [];
  let most = 0;
  if (mine.takes.length !== theirs.takes.length) return { found: [`${mine.takes.length} takes, not ${theirs.takes.length}`], most };
  mine.takes.forEach((take, i) => {
    const other = theirs.takes[i];
    for (const key of ["start_s", "manner", "chord", "frets"]) {
      if (take[key] !== other[key]) found.push(`take ${i} ${key}: ${take[key]}, not ${other[key]}`);
    }
    take.strings.forEach((string, j) => {
      const its = other.strings[j];
      if (string.verdict !== its.verdict || string.heard_fret !== its.heard_fret) {
        found.push(`take ${i} string ${string.string}: ${string.verdict}, not ${its.verdict}`);
      }
      for (const [key, alike] of [["rings", ALIKE], ["confidence", ALIKE], ["cents", ALIKE_COARSE], ["level_db", ALIKE_COARSE]]) {
        const off = Math.abs((string[key] ?? 0) - (its[key] ?? 0));
        if (alike === ALIKE) most = Math.max(most, off);
        if (off > alike) found.push(`take ${i} string ${string.string} ${key}: ${string[key]}, not ${its[key]}`);
      }
    });
    const causes = ({ advice }) => JSON.stringify(advice.map((a) => [a.cause, a.strings]));
    if (causes(take) !== causes(other)) found.push(`take ${i} causes: ${causes(take)}, not ${causes(other)}`);
  });
  return { found, most };
}

const STRUMS = join("fixtures", "strums");
const BUNDLED = [
  [join(STRUMS, "133211-string-3-dead-string-1-choked.wav"), { frets: "133211" }],
  [join(STRUMS, "x13331-all-strings-ring.wav"), { frets: "x13331" }],
  [join(STRUMS, "x35553-low-string-rings-string-2-at-the-barre.wav"), { chord: "C", frets: "x35553" }],
];
const RUNS = ["run-0-line.flac", "run-4-phone.flac"];
const OTHERS = [
  ...RUNS.map((run) => [join(STRUMS, "phone-strums", run), { chord: "G" }]),
  [join(STRUMS, "phone-strums", "run-0-phone.flac"), {}],
  [join(STRUMS, "guitarset", "00_BN1-129-Eb_comp_mic.flac"), { chord: "Eb" }],
  [join(STRUMS, "guitarset", "03_Jazz2-110-Bb_comp_mic.flac"), { chord: "Bb" }],
];

async function sameAsProgram() {
  const browser = await launch([]);
  const { page, noise } = await open(browser);
  let most = 0;
  let takes = 0;
  for (const [recording, meant] of [...BUNDLED, ...OTHERS]) {
    await page.evaluate(() => document.getElementById("results").replaceChildren());
    await mean(page, { chord: "", frets: "", ...meant });
    if (!meant.chord && !meant.frets) await page.waitForFunction(() => document.getElementById("goal").textContent.startsWith("any"));
    const [{ report, error }] = await recordings(page, [recording]);
    check(!error, `${recording}: ${error}`);
    if (error) continue;
    const options = meant.frets ? ["--frets", meant.frets] : meant.chord ? ["--chord", meant.chord] : [];
    const mine = JSON.parse(report);
    const off = differences(mine, program(recording, options));
    check(off.found.length === 0, `${recording} as ${JSON.stringify(meant)}: ${off.found.slice(0, 4).join("; ")}`);
    most = Math.max(most, off.most);
    takes += mine.takes.length;
  }
  console.log(`same as the program: ${takes} takes of ${BUNDLED.length + OTHERS.length} recordings, probabilities differ by ${most.toFixed(4)} at most`);
  check(takes > 100, `only ${takes} takes were compared`);
  check(noise.length === 0, `while checking the browser says ${noise.slice(0, 5).join("; ")}`);
  await browser.close();
}

/** Letters smaller than 16 px that can be seen, and how much wider than the window the page is. */
const looks = () => {
  const small = new Set();
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walk.nextNode(); node; node = walk.nextNode()) {
    const element = node.parentElement;
    if (!node.textContent.trim() || !element.checkVisibility() || ["SCRIPT", "STYLE", "OPTION"].includes(element.tagName)) continue;
    const svg = element.closest("svg");
    const scale = svg?.viewBox.baseVal?.width ? svg.getBoundingClientRect().width / svg.viewBox.baseVal.width : 1;
    const size = parseFloat(getComputedStyle(element).fontSize) * scale;
    if (size < 15.9) small.add(`${element.tagName} "${node.textContent.trim().slice(0, 20)}" ${size.toFixed(1)} px`);
  }
  const root = document.scrollingElement;
  return { small: [...small], wide: root.scrollWidth - root.clientWidth };
};

/** What a reader with other needs meets. */
async function accessible(page, name) {
  const { small, wide } = await page.evaluate(looks);
  check(small.length === 0, `${name}: small letters: ${small.slice(0, 4).join(", ")}`);
  check(wide <= 0, `${name}: the page is ${wide} px wider than the window`);
  await page.evaluate(axe);
  const result = await page.evaluate(() => window.axe.run());
  for (const rule of result.violations) {
    check(false, `${name}: ${rule.id}: ${rule.help}: ${rule.nodes.length} times, as ${rule.nodes[0].html.slice(0, 120)}`);
  }
  check(result.passes.some((rule) => rule.id === "color-contrast"), `${name}: contrast was not looked at`);
}

/** Each part of the page, filled, at each width and in both schemes. */
async function lookedAt() {
  const browser = await launch(hearing(strums(2)));
  for (const scheme of ["light", "dark"]) {
    for (const width of WIDTHS) {
      const name = `${width}-${scheme}`;
      const { page, noise, ready_s } = await open(browser, { width, height: width === 1200 ? 900 : 844, scheme });
      await page.setBypassCSP(true);
      await accessible(page, `${name} at first`);
      await shot(page, `${name}-first`);
      await mean(page, { chord: "C" });
      await accessible(page, `${name} choosing`);
      await shot(page, `${name}-choosing`);
      await mean(page, { frets: "133211" });
      await page.$eval("#played", (e) => (e.open = false));
      await page.click("#start");
      await page.waitForFunction(() => window.heard.some((one) => one.settled));
      await shot(page, `${name}-listening`, false);
      await accessible(page, `${name} listening`);
      await shot(page, `${name}-listened`);
      await page.click("#stop");
      const [{ error }] = await recordings(page, [BUNDLED[0][0]]);
      check(!error, `${name}: ${error}`);
      await page.evaluate(() => [...document.querySelectorAll(".take button")].find((b) => b.textContent === "Show pictures").click());
      await page.waitForSelector(".plot svg");
      await accessible(page, `${name} checked`);
      await shot(page, `${name}-checked`);
      await made(page, "Ada");
      await accessible(page, `${name} checked, the teacher's page made`);
      await part(page, "practise");
      await accessible(page, `${name} practise`);
      await shot(page, `${name}-practise`);
      await part(page, "diary");
      await page.waitForSelector("#told table");
      await accessible(page, `${name} diary`);
      await made(page, "Ada");
      await accessible(page, `${name} diary, the teacher's page made`);
      await shot(page, `${name}-diary`);
      check(noise.length === 0, `${name}: the browser says ${noise.slice(0, 5).join("; ")}`);
      console.log(`${name}: ready ${ready_s.toFixed(1)} s after opening`);
      await page.close();
    }
  }
  await browser.close();
}

/** A WAV file of 16 bit samples. The same name is the same sound: another part's browser may be reading it. */
function wavFile(name, rate, samples) {
  const path = join(work, name);
  if (existsSync(path)) return path;
  const bytes = Buffer.alloc(44 + 2 * samples.length);
  bytes.write("RIFF", 0);
  bytes.writeUInt32LE(36 + 2 * samples.length, 4);
  bytes.write("WAVEfmt ", 8);
  bytes.writeUInt32LE(16, 16);
  bytes.writeUInt16LE(1, 20);
  bytes.writeUInt16LE(1, 22);
  bytes.writeUInt32LE(rate, 24);
  bytes.writeUInt32LE(2 * rate, 28);
  bytes.writeUInt16LE(2, 32);
  bytes.writeUInt16LE(16, 34);
  bytes.write("data", 36);
  bytes.writeUInt32LE(2 * samples.length, 40);
  samples.forEach((s, i) => bytes.writeInt16LE(Math.round(Math.max(-1, Math.min(1, s)) * 32767), 44 + 2 * i));
  writeFileSync(path, bytes);
  return path;
}

/** The rate at which the browser hears its microphone, in Hz: nothing is then resampled on the way. */
const MICROPHONE_HZ = 48000;

/** The samples of a recording at a rate, as the browser decodes it. */
async function samplesOf(recording, rate = MICROPHONE_HZ) {
  const browser = await launch([]);
  const page = await browser.newPage();
  const base64 = readFileSync(recording).toString("base64");
  const samples = await page.evaluate(async (base64, rate) => {
    const bytes = Uint8Array.from(atob(base64), (c) => c.charCodeAt(0));
    const sound = await new OfflineAudioContext(1, 1, rate).decodeAudioData(bytes.buffer);
    return Array.from(sound.getChannelData(0));
  }, base64, rate);
  await browser.close();
  return samples;
}
/** A microphone's sound: the bundled strum with two faults, so many times, and before it a quiet second. */
function strums(times) {
  const rate = MICROPHONE_HZ;
  let seed = 1;
  const noise = () => ((seed = (seed * 48271) % 2147483647) / 2147483647 - 0.5) * 2e-4;
  const all = Array.from({ length: rate }, noise);
  for (let i = 0; i < times; i++) {
    for (const sample of strum) all.push(sample);
    // Strums come at other moments of a block each time.
    for (let k = 0; k < rate * 0.6 + i * 37; k++) all.push(noise());
  }
  return wavFile(`strums-${times}.wav`, rate, all);
}

const middle = (numbers) => [...numbers].sort((a, b) => a - b)[Math.floor(numbers.length / 2)];

/** A microphone that hears the same strum twenty times. */
async function listening() {
  const sound = strums(20);
  const browser = await launch(hearing(sound));
  const { page, noise } = await open(browser);
  await mean(page, { frets: "133211" });
  // By keyboard alone.
  await page.focus("#start");
  await page.keyboard.press("Enter");
  await page.waitForFunction(() => window.heard.filter((one) => one.settled).length >= 20);
  await page.click("#stop");
  await page.waitForFunction(() => !document.getElementById("start").hidden);
  const heard = await page.evaluate(() => window.heard);
  const settled = heard.filter((one) => one.settled);
  const firsts = [...new Map(heard.filter((one) => !one.settled).reverse().map((one) => [one.number, one])).values()];
  const wanted = program(sound, ["--frets", "133211"]).takes.map((take) => take.strings.map((s) => s.verdict).join(" "));
  const told20 = settled.slice(0, 20).map((one) => one.verdicts.join(" "));
  const alike = told20.filter((one, i) => one === wanted[i]).length;
  console.log(`of ${told20.length} strums at the microphone ${alike} are told to the word as the program tells the file`);
  check(alike >= 18, `at the microphone: ${told20.join(" / ")}, not ${wanted.join(" / ")}`);
  const delays = settled.map((one) => one.delay_s);
  const guesses = firsts.map((one) => one.delay_s);
  console.log(`strum to first guess ${middle(guesses).toFixed(2)} s, to verdict ${middle(delays).toFixed(2)} s (middle of ${guesses.length} and ${delays.length}; slowest ${Math.max(...guesses).toFixed(2)} and ${Math.max(...delays).toFixed(2)} s)`);
  check(middle(delays) > 0.5 && middle(delays) < 30, `a verdict comes after ${middle(delays)} s`);
  const rows = await page.$$eval("#history tbody tr", (rows) => rows.map((row) => row.textContent));
  check(rows.length === 6 && rows[3].includes("muted"), `the history reads ${rows[3]}`);
  const advice = await read(page, "advice");
  check(/String|string/.test(advice), `the advice reads ${JSON.stringify(advice)}`);

  // What was heard is in the diary, also after a reload, and in a second tab.
  await page.reload({ waitUntil: "load" });
  await page.waitForFunction(() => document.documentElement.dataset.ready);
  check((await page.$eval("#frets", (e) => e.value)) === "133211", "after a reload the frets are to be typed again");
  await part(page, "diary");
  await page.waitForSelector("#told table");
  const kept = await read(page, "kept");
  check(Number.parseInt(kept, 10) >= 20, `after a reload the diary says ${kept}`);
  const { page: second, noise: more } = await open(browser);
  await part(second, "diary");
  await second.waitForSelector("#told table");
  check((await read(second, "kept")) === kept, "a second tab tells of another diary");
  // A page behind another one is not drawn, and waiting for it would not end.
  await page.bringToFront();

  // Out of the browser, into the program, and the other way.
  const lines = await page.evaluate(async () => {
    const make = URL.createObjectURL;
    const blob = await new Promise((done) => {
      URL.createObjectURL = (blob) => (done(blob), make.call(URL, blob));
      document.getElementById("export").click();
    });
    URL.createObjectURL = make;
    return blob.text();
  });
  const saved = join(work, "diary.jsonl");
  writeFileSync(saved, lines);
  const diary = join(work, "diary.sqlite");
  const run = (...args) => execFileSync(ringtrue, ["progress", "--diary", diary, ...args], { encoding: "utf8" });
  run("--import", saved);
  const back = run("--json");
  const plain = (text) => text.trim().split("\n").map((line) => JSON.parse(line).at).sort().join("\n");
  check(plain(back) === plain(lines), "the program does not give back the takes that the page saved");
  const told = run();
  const next = await page.$eval("#told ol", (list) => list.textContent);
  const flat = (text) => text.replace(/\s+/g, " ");
  check(flat(told).includes(flat(next)), `the page proposes ${next}, the program says ${flat(told).slice(0, 400)}`);
  const round = join(work, "back.jsonl");
  writeFileSync(round, back);
  const take = async (path) => {
    await page.$eval("#kept", (e) => (e.textContent = ""));
    await (await page.$("#import")).uploadFile(path);
    await page.waitForFunction(() => document.getElementById("kept").textContent.includes("new") || !document.getElementById("trouble").hidden);
    return page.$eval("#kept", (e) => e.textContent);
  };
  const twice = await take(round);
  check(twice.startsWith("0 of "), `takes taken in twice: ${twice} ${await read(page, "trouble")}`);
  await page.click("#forget");
  await page.click("#forget-yes");
  await page.waitForFunction(() => document.getElementById("kept").textContent.startsWith("0 "));
  const again = await take(round);
  check(again.startsWith(`${Number.parseInt(kept, 10)} of `), `taken in again: ${again}`);
  const wrong = join(work, "wrong.jsonl");
  writeFileSync(wrong, "{\"a\": 1}\n");
  await take(wrong);
  const sentence = await read(page, "trouble");
  check(/wrong.jsonl, line 1/.test(sentence), `of a wrong file the page says ${sentence}`);
  check(noise.length + more.length === 0, `while listening the browser says ${[...noise, ...more].slice(0, 5).join("; ")}`);
  await browser.close();
}

/** A lesson at the microphone: it asks, counts, goes on, and a reload in its middle loses nothing. */
async function practising() {
  const browser = await launch(hearing(strums(20)));
  const { page, noise } = await open(browser);
  await part(page, "practise");
  await page.waitForSelector("#lessons button");
  check((await page.$$("#lessons button")).length === 3, "three lessons are not offered");
  await page.click("#lessons button");
  await page.waitForFunction(() => document.getElementById("status").textContent.startsWith("Step 1 of"));
  await page.waitForFunction(() => /^[0-9]+ of/.test(document.getElementById("note").textContent));
  const asked = await read(page, "now");
  check(asked.length > 0, "the lesson asks for nothing");
  await shot(page, "lesson");
  await accessible(page, "a lesson");
  await page.reload({ waitUntil: "load" });
  await page.waitForFunction(() => document.documentElement.dataset.ready);
  await part(page, "diary");
  await page.waitForSelector("#told table");
  check(/^[1-9]/.test(await read(page, "kept")), "a reload in the middle of a lesson lost its takes");
  await part(page, "practise");
  await page.click("#lessons button");
  await page.waitForFunction(() => document.getElementById("status").textContent.startsWith("Step 1 of"));
  await page.click("#leave");
  await page.waitForFunction(() => document.getElementById("status").textContent.startsWith("Step 2 of"));
  await page.click("#stop");
  await page.waitForFunction(() => document.querySelector("#came-out pre").textContent.startsWith("What came out"));
  await shot(page, "lesson-over");
  const lesson = join(work, "wrong.toml");
  writeFileSync(lesson, 'title = "x"\n[[step]]\nkind = "dance"\n');
  await (await page.$("#lesson-file")).uploadFile(lesson);
  await page.waitForFunction(() => !document.getElementById("trouble").hidden);
  check(/line 3/.test(await read(page, "trouble")), `of a wrong lesson the page says ${await read(page, "trouble")}`);
  // Content security policies of a page under test: axe is not the page's own.
  const own = noise.filter((one) => !one.includes("axe"));
  check(own.length === 0, `in a lesson the browser says ${own.slice(0, 5).join("; ")}`);
  await browser.close();
}

/** A recording played and recorded by the browser: a voice note, in Opus. */
async function recordedByBrowser(browser, recording) {
  const page = await browser.newPage();
  await page.goto("about:blank");
  const note = await page.evaluate(async (base64) => {
    const context = new AudioContext();
    await context.resume();
    const bytes = Uint8Array.from(atob(base64), (c) => c.charCodeAt(0));
    const source = new AudioBufferSourceNode(context, { buffer: await context.decodeAudioData(bytes.buffer) });
    const out = context.createMediaStreamDestination();
    source.connect(out);
    const recorder = new MediaRecorder(out.stream, { mimeType: "audio/webm;codecs=opus", audioBitsPerSecond: 64000 });
    const parts = [];
    recorder.ondataavailable = ({ data }) => parts.push(data);
    recorder.start();
    await new Promise((done) => setTimeout(done, 300));
    source.start();
    await new Promise((done) => (source.onended = done));
    recorder.stop();
    await new Promise((done) => (recorder.onstop = done));
    const all = new Uint8Array(await new Blob(parts).arrayBuffer());
    return btoa(Array.from(all, (b) => String.fromCharCode(b)).join(""));
  }, readFileSync(recording).toString("base64"));
  await page.close();
  const path = join(work, "voice note.webm");
  writeFileSync(path, Buffer.from(note, "base64"));
  return path;
}

/** Makes the page for the teacher with the button and gives it. */
async function made(page, learner) {
  await page.$eval("#learner", (e, text) => (e.value = text), learner);
  await page.evaluate(() => (window.made = null));
  await page.click("#make");
  await page.waitForFunction(() => window.made || !document.getElementById("trouble").hidden);
  check((await read(page, "trouble")) === "", `a page for the teacher is not made: ${await read(page, "trouble")}`);
  return page.evaluate(() => window.made?.page ?? "");
}

/** Opens a page for the teacher as the teacher does; gives what can be read and how much there is to see and hear. */
async function teacherSees(browser, html, name) {
  const path = join(work, `${name}.html`);
  writeFileSync(path, html);
  const page = await browser.newPage();
  const noise = [];
  page.on("console", (message) => noise.push(message.text()));
  page.on("pageerror", (error) => noise.push(error.message));
  await page.goto(pathToFileURL(path).href, { waitUntil: "load" });
  const seen = await page.evaluate(() => ({
    // Of pictures the letters are measured in two ways, so that one may have room for more words.
    text: [...document.querySelectorAll("h1, h2, h3, p, li, td, th, summary")].map((e) => e.innerText).join("\n"),
    pictures: document.querySelectorAll("svg").length,
    sounds: document.querySelectorAll("audio").length,
    broken: window.broken,
    numbers: document.querySelector("[name=practice-numbers]")?.content,
  }));
  await shot(page, `report-${name}`);
  check(noise.length === 0, `the teacher's page ${name} makes the browser say ${noise.slice(0, 3).join("; ")}`);
  await page.close();
  return seen;
}

/** The page for the teacher: the program's own, of recordings and of the diary. */
async function forTeacher() {
  const browser = await launch(hearing(strums(20)));
  const { page, noise } = await open(browser);
  await mean(page, { frets: "133211" });
  await part(page, "check");
  check(!(await page.$eval("#make", (e) => e.checkVisibility())), "a page is offered where nothing was checked");
  const wrong = join(work, "wrong.wav");
  writeFileSync(wrong, "This is no sound.\n".repeat(100));
  // The second of two checks of one file counts.
  await recordings(page, [BUNDLED[0][0]]);
  await recordings(page, [BUNDLED[0][0], wrong]);
  const mine = await teacherSees(browser, await made(page, HOSTILE), "of-recordings");
  const out = join(work, "program.html");
  try {
    execFileSync(ringtrue, ["report", BUNDLED[0][0], wrong, "--frets", "133211", "--learner", HOSTILE, "--out", out], { stdio: "pipe" });
  } catch (fault) {
    check(fault.status === 2, `ringtrue report: ${fault.stderr}`); // 2: a recording cannot be read
  }
  const its = await teacherSees(browser, readFileSync(out, "utf8"), "of-the-program");
  // The program knows the folder of the file that it cannot read.
  const plain = ({ text }) => text.replaceAll(`${work}/`, "").split("\n").map((line) => line.trim()).filter(Boolean);
  const [own, others] = [plain(mine), plain(its)];
  const off = others.findIndex((line, i) => line !== own[i]);
  check(off < 0 && own.length === others.length, `the teacher reads ${JSON.stringify(own[off])}, by the program ${JSON.stringify(others[off])}`);
  for (const key of ["pictures", "sounds", "numbers"]) check(mine[key] === its[key], `the teacher's page has ${key} ${mine[key]}, the program's ${its[key]}`);
  check(mine.sounds === 1 && mine.pictures >= 3, `the teacher's page has ${mine.sounds} sounds, ${mine.pictures} pictures`);
  check(mine.text.includes(HOSTILE) && mine.broken === undefined, "the learner's name is not on the page as it was typed");

  // Of the diary: without its sound first, then with it.
  await part(page, "listen");
  const listen = async (count) => {
    const before = await page.evaluate(() => window.heard.filter((one) => one.settled).length);
    await page.click("#start");
    await page.waitForFunction((n) => window.heard.filter((one) => one.settled).length >= n, {}, before + count);
    await page.click("#stop");
    await page.waitForFunction(() => !document.getElementById("start").hidden);
  };
  await listen(1);
  await part(page, "diary");
  await page.waitForSelector("#told table");
  check((await page.$eval("#span", (e) => e.value)) === "all", "not all takes are proposed for the first page");
  const first = await teacherSees(browser, await made(page, ""), "of-the-diary");
  check(first.sounds === 0 && JSON.parse(first.numbers).judged >= 1, `a diary without sound: ${first.sounds} sounds, numbers ${first.numbers}`);
  await part(page, "listen");
  await page.click("#keep");
  await listen(3);
  await part(page, "diary");
  await page.waitForSelector("#told table");
  const second = await teacherSees(browser, await made(page, "Ada"), "of-the-diary-again");
  check(second.sounds >= 1 && second.sounds <= 2, `a diary with sound: ${second.sounds} sounds`);
  check(second.text.includes("Ada") && /Since the last report/.test(second.text), "what has changed is not said");
  // The program says the same numbers of the same takes.
  const lines = await page.evaluate(async () => {
    const { promise, resolve } = Promise.withResolvers();
    const make = URL.createObjectURL;
    URL.createObjectURL = (blob) => (resolve(blob.text()), make.call(URL, blob));
    document.getElementById("export").click();
    return promise;
  });
  const [jsonl, diary] = [join(work, "teacher.jsonl"), join(work, "teacher.sqlite")];
  writeFileSync(jsonl, lines);
  execFileSync(ringtrue, ["progress", "--import", jsonl, "--diary", diary], { stdio: "pipe" });
  execFileSync(ringtrue, ["report", "--diary", diary, "--out", out], { stdio: "pipe" });
  const told = await teacherSees(browser, readFileSync(out, "utf8"), "of-the-programs-diary");
  check(told.numbers === second.numbers, `numbers of the diary: ${second.numbers}, by the program ${told.numbers}`);
  check(noise.length === 0, `while a page is made the browser says ${noise.slice(0, 5).join("; ")}`);
  await browser.close();
}

/** Drops files or folders as a hand does. */
async function drop(page, paths, at) {
  const session = await page.createCDPSession();
  const data = { items: [], files: paths, dragOperationsMask: 1 };
  for (const type of ["dragEnter", "dragOver", "drop"]) await session.send("Input.dispatchDragEvent", { type, ...at, data });
  await session.detach();
}

/** Files and folders that are dropped, on the place for them and beside it. */
async function dropping() {
  const browser = await launch([]);
  const { page, noise } = await open(browser);
  await mean(page, { frets: "133211" });
  const folder = join(work, "week");
  mkdirSync(join(folder, "monday"), { recursive: true });
  copyFileSync(BUNDLED[0][0], join(folder, "monday", "take 1.wav"));
  copyFileSync(BUNDLED[1][0], join(folder, "take 2.wav"));
  writeFileSync(join(folder, "notes.txt"), "no sound");
  const nothing = join(work, "nothing");
  mkdirSync(nothing);
  writeFileSync(join(nothing, "notes.txt"), "no sound");
  const text = join(work, "text.wav");
  writeFileSync(text, "This is no sound.\n".repeat(100));
  const checked = () => page.evaluate(() => window.checked);
  const until = (n) => page.waitForFunction((n) => window.checked.length >= n, {}, n);

  // Beside the place, while another part is open: nothing is opened in the page's stead.
  const gone = join(work, "gone.wav");
  await drop(page, [BUNDLED[0][0], text, gone].map((path) => resolve(path)), { x: 40, y: 40 });
  await until(3);
  check(page.url() === address && (await read(page, "check")) !== "", "what is dropped beside the place is not taken");
  let all = await checked();
  check(!all[0].error && JSON.parse(all[0].report).takes.length === 1, `a file dropped: ${JSON.stringify(all[0]).slice(0, 200)}`);
  check(/holds text/.test(all[1].error), `a file that is no audio, dropped: ${all[1].error}`);
  check(/gone.wav.*Copy it to this device/.test(all[2].error), `a file that is gone, dropped: ${all[2].error}`);
  check((await page.$$("#results article")).length === 3, "not each file dropped has its place");
  // A folder: its recordings, in the order of their names.
  await drop(page, [folder], { x: 100, y: 100 });
  await until(5);
  all = await checked();
  check(all[3].name === "week/monday/take 1.wav" && all[4].name === "week/take 2.wav", `of a folder ${all[3].name} and ${all[4].name} are read`);
  check(/1 file in the folder is no recording/.test(await read(page, "trouble")), `of other files in a folder: ${await read(page, "trouble")}`);
  await shot(page, "dropped");
  await drop(page, [nothing], { x: 100, y: 100 });
  await page.waitForFunction(() => /no recording in/.test(document.getElementById("trouble").textContent));
  // A script's own event, as some file managers' pages send: the files alone.
  await page.evaluate(async (base64) => {
    const bytes = Uint8Array.from(atob(base64), (c) => c.charCodeAt(0));
    const dataTransfer = new DataTransfer();
    for (const name of ["one.wav", "two.wav"]) dataTransfer.items.add(new File([bytes], name));
    document.getElementById("drop").dispatchEvent(new DragEvent("drop", { dataTransfer, bubbles: true, cancelable: true }));
  }, readFileSync(BUNDLED[0][0]).toString("base64"));
  await until(7);
  all = await checked();
  check(all.slice(5).every(({ error, report }) => !error && JSON.parse(report).takes.length === 1), "two files of a script's event are not read");
  check(noise.length === 0, `while files are dropped the browser says ${noise.slice(0, 5).join("; ")}`);
  await browser.close();
}

/** A microphone that goes while it is listened to, and comes back. */
async function unplugged() {
  const browser = await launch(hearing(strums(20)));
  const { page, noise } = await open(browser, {
    before: () => {
      const ask = MediaDevices.prototype.getUserMedia;
      MediaDevices.prototype.getUserMedia = async function (...what) {
        const stream = await ask.apply(this, what);
        [window.track] = stream.getAudioTracks();
        return stream;
      };
    },
  });
  await mean(page, { frets: "133211" });
  const settled = () => page.evaluate(() => window.heard.filter((one) => one.settled).length);
  const listen = async (more) => {
    const before = await settled();
    await page.click("#start");
    await page.waitForFunction((n) => window.heard.filter((one) => one.settled).length >= n, {}, before + more);
  };
  const gone = async (name) => {
    await page.waitForFunction(() => /microphone is gone/.test(document.getElementById("trouble").textContent));
    check(/takes are kept/.test(await read(page, "trouble")), `${name}: the page says ${await read(page, "trouble")}`);
    check(await page.$eval("#start", (e) => e.checkVisibility() && !e.disabled), `${name}: listening cannot be started again`);
    check((await page.$$("#strings li")).length === 6, `${name}: the last take is gone from the screen`);
  };
  await listen(2);
  // Read at once: the track is not muted in truth, and the next level takes the sentence back.
  const muted = await page.evaluate(() => {
    window.track.dispatchEvent(new Event("mute"));
    return document.getElementById("silence").textContent;
  });
  check(/No sound comes from the microphone/.test(muted), `muted: the page says ${muted}`);
  await page.evaluate(() => window.track.dispatchEvent(new Event("unmute")));
  await page.evaluate(() => (window.track.stop(), window.track.dispatchEvent(new Event("ended"))));
  await gone("ended");
  await shot(page, "microphone-unplugged");
  // It is plugged in again: the page says so.
  await page.evaluate(() => navigator.mediaDevices.dispatchEvent(new Event("devicechange")));
  await page.waitForFunction(() => /microphone is there now/.test(document.getElementById("trouble").textContent));
  // It goes, and the track does not say so.
  await listen(1);
  await page.evaluate(() => {
    MediaDevices.prototype.enumerateDevices = async () => [{ kind: "audioinput", deviceId: "another" }];
    navigator.mediaDevices.dispatchEvent(new Event("devicechange"));
  });
  await gone("another device alone");
  await part(page, "diary");
  await page.waitForFunction((n) => document.getElementById("kept").textContent.startsWith(`${n} takes`), {}, await settled()).catch(() => {});
  check((await read(page, "kept")).startsWith(`${await settled()} takes`), `${await settled()} takes were heard, the diary says ${await read(page, "kept")}`);
  check(noise.length === 0, `while the microphone goes the browser says ${noise.slice(0, 5).join("; ")}`);
  await browser.close();
}

/** Storage that is full in the middle: said, nothing lost, and all is stored where there is room again. */
async function full() {
  const browser = await launch(hearing(strums(20)));
  const { page, noise } = await open(browser, {
    before: () => {
      for (const name of ["put", "add"]) {
        const act = IDBObjectStore.prototype[name];
        IDBObjectStore.prototype[name] = function (...what) {
          if (window.isFull) throw new DOMException("full", "QuotaExceededError");
          return act.apply(this, what);
        };
      }
    },
  });
  await mean(page, { frets: "133211" });
  await page.click("#keep");
  const settled = (n) => page.waitForFunction((n) => window.heard.filter((one) => one.settled).length >= n, {}, n);
  await page.click("#start");
  await settled(2);
  await page.evaluate(() => (window.isFull = true));
  await page.waitForFunction(() => /no room left/.test(document.getElementById("trouble").textContent));
  await settled(4);
  await page.click("#stop");
  await page.waitForFunction(() => !document.getElementById("start").hidden);
  check(/Save it as a file/.test(await read(page, "trouble")), `storage full: the page says ${await read(page, "trouble")}`);
  await shot(page, "storage-full");
  // A browser asks back before it leaves the page.
  const asks = () => page.evaluate(() => !dispatchEvent(new Event("beforeunload", { cancelable: true })));
  check(await asks(), "storage full: the page is left without a question, and its takes with it");
  await part(page, "diary");
  await page.waitForSelector("#told table");
  const heard = await page.evaluate(() => new Set(window.heard.filter((one) => one.settled).map((one) => one.number)).size);
  const kept = await read(page, "kept");
  check(kept.startsWith(`${heard} takes`), `storage full: ${heard} takes were heard, the diary says ${kept}`);
  // There is room again: the next take brings those before it along.
  await page.evaluate(() => (window.isFull = false));
  await part(page, "listen");
  await page.evaluate(() => (window.heard = []));
  await page.click("#start");
  await settled(1);
  await page.click("#stop");
  await page.waitForFunction(() => !document.getElementById("start").hidden);
  const more = await page.evaluate(() => new Set(window.heard.filter((one) => one.settled).map((one) => one.number)).size);
  check(!(await asks()), "room again: the browser still asks whether to leave the page");
  await page.reload({ waitUntil: "load" });
  await page.waitForFunction(() => document.documentElement.dataset.ready);
  await part(page, "diary");
  await page.waitForSelector("#told table");
  check((await read(page, "kept")).startsWith(`${heard + more} takes`), `room again: ${heard + more} takes were heard, after a reload the diary says ${await read(page, "kept")}`);
  check(noise.length === 0, `while storage is full the browser says ${noise.slice(0, 5).join("; ")}`);
  await browser.close();
}

/** Long listening without a pause: the worker gets the very blocks that the worklet would send it, one after the other as
 * fast as it takes them, so faster than real time. Memory stays flat and each strum becomes a take. */
async function long() {
  const browser = await launch(hearing(strums(1)));
  const { page, noise } = await open(browser, {
    before: () => {
      const post = MessagePort.prototype.postMessage;
      MessagePort.prototype.postMessage = function (what, ...more) {
        // The worklet's way to the worker: the test takes its place.
        if (what?.to instanceof MessagePort) window.toWorker = what.to;
        else post.call(this, what, ...more);
      };
    },
  });
  await mean(page, { frets: "133211" });
  await page.click("#keep");
  await page.click("#start");
  await page.waitForFunction(() => window.toWorker && document.getElementById("stop").checkVisibility());
  const [worker] = page.workers();
  const rate = await page.evaluate(() => new AudioContext().sampleRate);
  const strum = await samplesOf(BUNDLED[0][0], rate);
  const bytes = Buffer.from(Float32Array.from(strum).buffer).toString("base64");
  const period_s = 3.5;
  await page.evaluate((base64, rate, period_s) => {
    const samples = new Float32Array(Uint8Array.from(atob(base64), (c) => c.charCodeAt(0)).buffer);
    const [period, fade] = [period_s * rate, 0.1 * rate];
    const length = Math.min(samples.length, 3 * rate);
    const block = 1024;
    let [at, seed] = [0, 1];
    const noise = () => ((seed = (seed * 48271) % 2147483647) / 2147483647 - 0.5) * 2e-4;
    /** Sends so many seconds of sound: a strum each period, each at another moment of a block and as loud as it likes. */
    window.feed = (seconds) => {
      for (const end = at + seconds * rate; at < end; ) {
        const sound = new Float32Array(block);
        for (let i = 0; i < block; i++, at++) {
          const [count, into] = [Math.floor(at / period), at % period];
          const gain = 0.4 + 0.6 * ((count * 0.37) % 1);
          const from = into - rate * 0.2;
          const faded = Math.min(1, (length - from) / fade);
          sound[i] = noise() + (from >= 0 && from < length ? gain * faded * samples[from] : 0);
        }
        window.toWorker.postMessage({ samples: sound, lost: 0, at: Date.now() });
      }
      return { sent_s: at / rate, strums: Math.ceil((at - rate * 0.2) / period) };
    };
  }, bytes, rate, period_s);
  const [inWorker, inPage] = [worker.client, await page.createCDPSession()];
  const megabytes = (count) => Math.round(count / 1e5) / 10;
  const memory = async () => {
    const heaps = [];
    for (const session of [inWorker, inPage]) {
      await session.send("HeapProfiler.collectGarbage");
      heaps.push((await session.send("Runtime.getHeapUsage")).usedSize);
    }
    const wasm = await worker.evaluate(() => wasm_bindgen.initSync().memory.buffer.byteLength);
    return { wasm: megabytes(wasm), worker: megabytes(heaps[0]), page: megabytes(heaps[1]) };
  };
  const marks = [];
  const [every_s, chunk_s] = [LONG_MIN >= 60 ? 600 : 60, 2];
  const began = performance.now();
  let sent = { sent_s: 0, strums: 0 };
  const feed = async (seconds) => {
    sent = await page.evaluate((seconds) => window.feed(seconds), seconds);
    // The next ones wait until these are heard: a microphone is never so far ahead.
    while ((await worker.evaluate(() => listen.now_s())) < sent.sent_s - 1) await new Promise((done) => setTimeout(done, 20));
  };
  while (sent.sent_s < 60 * LONG_MIN) {
    await feed(chunk_s);
    if (sent.sent_s >= every_s * (marks.length + 1)) {
      marks.push(await memory());
      console.log(`after ${Math.round(sent.sent_s / 60)} minutes of sound: WebAssembly ${marks.at(-1).wasm} MB, JavaScript of the worker ${marks.at(-1).worker} MB, of the page ${marks.at(-1).page} MB`);
    }
  }
  // The last strum is there whole.
  await feed(period_s - (sent.sent_s % period_s) - 0.1);
  const took_s = (performance.now() - began) / 1000;
  await page.click("#stop");
  await page.waitForFunction(() => !document.getElementById("start").hidden);
  const told = await page.evaluate(() => [...new Map(window.heard.filter((one) => one.settled).map((one) => [one.number, { ...one, verdicts: one.verdicts.join(" ") }])).values()]);
  const [takes, whole] = [told.length, sent.strums];
  console.log(`${Math.round(sent.sent_s / 60)} minutes of sound in ${(took_s / 60).toFixed(1)}: ${whole} strums in, ${takes} takes out`);
  const which = new Set(told.map(({ start_s }) => Math.floor(start_s / period_s)));
  const missed = Array.from({ length: whole }, (_, i) => i).filter((i) => !which.has(i));
  check(takes === whole && missed.length === 0, `${whole} strums in, ${takes} takes out; missing: ${missed.slice(0, 5)}`);
  // The same strum, louder and softer, cut off by the next one: what is told of it, and how often.
  const counts = new Map();
  for (const { verdicts } of told) counts.set(verdicts, (counts.get(verdicts) ?? 0) + 1);
  console.log([...counts].map(([verdicts, count]) => `${count} times ${verdicts}`).join("; "));
  check(!told.some(({ verdicts }) => /^(unsure ?)+$/.test(verdicts)), "takes are not judged");
  await part(page, "diary");
  await page.waitForSelector("#told table");
  check((await read(page, "kept")).startsWith(`${whole} takes`), `${whole} strums in, the diary says ${await read(page, "kept")}`);
  const [first, last] = [marks[0], marks.at(-1)];
  for (const [where, most] of Object.entries({ wasm: 1, worker: 2, page: 4 })) {
    check(last[where] <= first[where] + most, `memory grows (${where}): ${marks.map((mark) => mark[where]).join(", ")} MB`);
  }
  check(noise.length === 0, `while listening long the browser says ${noise.slice(0, 5).join("; ")}`);
  await browser.close();
}

/** What goes wrong has a sentence each. */
async function troubles() {
  const cases = [
    ["refused", ["--use-fake-device-for-media-stream", "--deny-permission-prompts"], "trouble", /does not let this page use the microphone/],
    ["missing", ["--use-fake-ui-for-media-stream"], "trouble", /No microphone was found|cannot be used/],
    ["silent", hearing(wavFile("zeros.wav", 44100, new Array(44100 * 3).fill(0))), "silence", /No sound at all/],
  ];
  for (const [name, flags, place, wanted] of cases) {
    const browser = await launch(flags);
    const { page } = await open(browser);
    await page.click("#start");
    await page.waitForFunction((place) => !document.getElementById(place).hidden, {}, place);
    const sentence = await read(page, place);
    check(wanted.test(sentence), `microphone ${name}: the page says ${JSON.stringify(sentence)}`);
    await shot(page, `microphone-${name}`);
    await browser.close();
  }

  const browser = await launch(hearing(strums(2)));
  const refusing = () => {
    IDBFactory.prototype.open = () => {
      throw new DOMException("denied", "SecurityError");
    };
  };
  const { page, noise } = await open(browser, { before: refusing });
  await mean(page, { frets: "133211" });
  await page.click("#start");
  await page.waitForFunction(() => window.heard.some((one) => one.settled));
  await page.waitForFunction(() => !document.getElementById("trouble").hidden);
  check(/does not let this page store/.test(await read(page, "trouble")), "storage refused: no word of it");
  await page.click("#stop");
  await part(page, "diary");
  await page.waitForSelector("#told table");
  check(/^[1-9]/.test(await read(page, "kept")), "storage refused: the takes of this visit are lost");
  check(noise.length === 0, `storage refused: the browser says ${noise.slice(0, 5).join("; ")}`);

  // Files that are no recordings of strums.
  const { page: other, noise: more } = await open(browser);
  const empty = join(work, "empty.wav");
  writeFileSync(empty, "");
  const text = join(work, "text.wav");
  writeFileSync(text, "This is no sound.\n".repeat(100));
  const half = join(work, "half.wav");
  writeFileSync(half, readFileSync(BUNDLED[1][0]).subarray(0, 150_000));
  const silence = wavFile("silence.wav", 44100, new Array(44100).fill(0));
  for (const [path, wanted] of [[empty, /empty/], [text, /holds text/], [half, /breaks off/], [silence, /silence/]]) {
    const [{ report, error }] = await recordings(other, [path]);
    const sentence = error ?? JSON.parse(report).error;
    check(wanted.test(sentence), `${basename(path)}: the page says ${JSON.stringify(sentence)}`);
  }
  // What a messenger sends, which the program does not read: tones here, so that nobody strums.
  for (const name of ["opus.ogg", "opus.webm"]) {
    const [{ report, error }] = await recordings(other, [join("fixtures", "formats", name)]);
    check(!error && /no strum was found/.test(JSON.parse(report).error), `${name}: ${error ?? report}`);
  }
  // A strum as a browser records it.
  await mean(other, { frets: "133211" });
  const [{ report, error }] = await recordings(other, [await recordedByBrowser(browser, BUNDLED[0][0])]);
  const verdicts = error ? error : JSON.parse(report).takes[0]?.strings.map((s) => s.verdict);
  const wanted = program(BUNDLED[0][0], ["--frets", "133211"]).takes[0].strings.map((s) => s.verdict);
  const wrong = [0, 1, 2, 3, 4, 5].filter((i) => verdicts[i] !== wanted[i]);
  check(wrong.length <= 1, `a strum recorded by the browser is told as ${verdicts}, not ${wanted}`);
  // A chord that there is not: said at once, and what was meant before still counts.
  await other.$eval("#played", (e) => (e.open = true));
  await other.$eval("#chord", (e) => {
    e.value = "Hm9";
    e.dispatchEvent(new Event("input"));
  });
  await other.waitForFunction(() => !document.getElementById("wrong").hidden);
  check(/Hm9/.test(await read(other, "wrong")), "a chord that there is not: no word of it");
  check(more.length === 0, `of odd files the browser says ${more.slice(0, 5).join("; ")}`);
  await browser.close();
}

/** The bundled strum with two faults. */
const strum = await samplesOf(BUNDLED[0][0]);

const parts = { sameAsProgram, lookedAt, listening, practising, forTeacher, dropping, unplugged, full, long, troubles };
/** So many parts go on at once: a microphone is heard in real time, and most of that is waiting. */
const AT_ONCE = 2;
const waiting = Object.entries(parts).filter(([name]) => !only || only === name);
async function goOn() {
  for (let next = waiting.shift(); next; next = waiting.shift()) {
    const [name, run] = next;
    const began = Date.now();
    await run();
    console.log(`${name}: ${Math.round((Date.now() - began) / 1000)} s`);
  }
}
try {
  await Promise.all(Array.from({ length: AT_ONCE }, goOn));
} finally {
  rmSync(work, { recursive: true, force: true, maxRetries: 5 });
}
end("page-test");
