// Called by scripts/page-test: TOOLS RINGTRUE PAGE PICTURES. Opens the page in a real browser, as players do.
import { execFileSync } from "node:child_process";
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { basename, join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { check, end } from "./checks.mjs";

const [tools, ringtrue, file, pictures, only] = process.argv.slice(2).map((path, i) => (i < 4 ? resolve(path) : path));
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
      await part(page, "practise");
      await accessible(page, `${name} practise`);
      await shot(page, `${name}-practise`);
      await part(page, "diary");
      await page.waitForSelector("#told table");
      await accessible(page, `${name} diary`);
      await shot(page, `${name}-diary`);
      check(noise.length === 0, `${name}: the browser says ${noise.slice(0, 5).join("; ")}`);
      console.log(`${name}: ready ${ready_s.toFixed(1)} s after opening`);
      await page.close();
    }
  }
  await browser.close();
}

/** A WAV file of 16 bit samples. */
function wavFile(name, rate, samples) {
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
  const path = join(work, name);
  writeFileSync(path, bytes);
  return path;
}

/** The rate at which the browser hears its microphone, in Hz: nothing is then resampled on the way. */
const MICROPHONE_HZ = 48000;

/** The samples of a recording at that rate, as the browser decodes it. */
async function samplesOf(recording) {
  const browser = await launch([]);
  const page = await browser.newPage();
  const base64 = readFileSync(recording).toString("base64");
  const samples = await page.evaluate(async (base64, rate) => {
    const bytes = Uint8Array.from(atob(base64), (c) => c.charCodeAt(0));
    const sound = await new OfflineAudioContext(1, 1, rate).decodeAudioData(bytes.buffer);
    return Array.from(sound.getChannelData(0));
  }, base64, MICROPHONE_HZ);
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

const parts = { sameAsProgram, lookedAt, listening, practising, troubles };
try {
  for (const [name, run] of Object.entries(parts)) {
    if (!only || only === name) await run();
  }
} finally {
  rmSync(work, { recursive: true, force: true, maxRetries: 5 });
}
end("page-test");
