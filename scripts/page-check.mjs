// Called by scripts/page-check: TOOLS RINGTRUE PICTURES.
import { execFileSync } from "node:child_process";
import { copyFileSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { check, end } from "./checks.mjs";

const [tools, ringtrue, pictures] = process.argv.slice(2).map((path) => resolve(path));
const need = createRequire(join(tools, "package.json"));
const puppeteer = await import(pathToFileURL(need.resolve("puppeteer-core")));
const axe = readFileSync(need.resolve("axe-core/axe.min.js"), "utf8");

// What a user can type or call a file must come out as text.
const HOSTILE = `<img src=x onerror="window.broken=1">"'&amp;{{7*7}}</script>`;

/** A folder of saved takes of three chords on two days, one chord and one guitar oddly named. */
function practice(folder) {
  const takes = [
    ["133211-string-3-dead-string-1-choked.wav", "133211", "2026-03-02"],
    ["x13331-all-strings-ring.wav", "x13331", "2026-03-02"],
    ["x35553-low-string-rings-string-2-at-the-barre.wav", "x35553", "2026-03-04"],
  ];
  takes.forEach(([file, frets, day], i) => {
    for (const part of [1, 2]) {
      const name = i === 0 ? `odd <b>&${part}` : `take-${i}-${part}`;
      const sound = join(folder, `${name}.wav`);
      copyFileSync(join("fixtures", "strums", file), sound);
      let out;
      try {
        out = execFileSync(ringtrue, ["check", sound, "--frets", frets, "--json"]);
      } catch (fault) {
        out = fault.stdout; // 1: a string is not as it should be
      }
      const saved = JSON.parse(out);
      saved.recorded_at = `${day}T18:0${part}:00+01:00`;
      saved.guitar = HOSTILE;
      if (i === 2) saved.takes[0].chord = HOSTILE;
      writeFileSync(join(folder, `${name}.json`), JSON.stringify(saved));
    }
  });
}

/** Counts dark pixels of a PNG, in all and in the outer margins (share of the width and height). */
async function dark(scratch, png, margin) {
  return scratch.evaluate(
    async (data, margin) => {
      const image = new Image();
      image.src = `data:image/png;base64,${data}`;
      await image.decode();
      const canvas = document.createElement("canvas");
      [canvas.width, canvas.height] = [image.width, image.height];
      const paint = canvas.getContext("2d");
      paint.drawImage(image, 0, 0);
      const { data: pixels } = paint.getImageData(0, 0, image.width, image.height);
      const count = { all: 0, margin: 0, width: image.width, height: image.height };
      for (let i = 0; i < pixels.length; i += 4) {
        if (pixels[i] + pixels[i + 1] + pixels[i + 2] > 600) continue;
        const x = (i / 4) % image.width;
        const y = Math.floor(i / 4 / image.width);
        count.all += 1;
        const inside = x > margin * image.width && x < (1 - margin) * image.width;
        if (!inside || y < margin * image.height || y > (1 - margin) * image.height) count.margin += 1;
      }
      return count;
    },
    png.toString("base64"),
    margin,
  );
}

async function open(browser, file, width, height) {
  const page = await browser.newPage();
  await page.setBypassCSP(false);
  await page.setViewport({ width, height });
  const noise = [];
  page.on("console", (message) => noise.push(`${message.type()}: ${message.text()}`));
  page.on("pageerror", (error) => noise.push(`error: ${error.message}`));
  page.on("request", (request) => {
    if (!/^(data|file):/.test(request.url())) noise.push(`request: ${request.url()}`);
  });
  page.on("requestfailed", (request) => noise.push(`failed: ${request.url().slice(0, 80)}`));
  await page.goto(pathToFileURL(file).href, { waitUntil: "load" });
  return { page, noise };
}

const folder = mkdtempSync(join(tmpdir(), "page-check-"));
mkdirSync(pictures, { recursive: true });
// On a busy machine one call to the browser has taken more than the usual three minutes.
const PATIENCE_MS = 600_000;
const browser = await puppeteer.launch({
  protocolTimeout: PATIENCE_MS,
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  // Without a graphics card its process has waited for ever on a busy machine.
  args: ["--no-sandbox", "--disable-gpu", "--autoplay-policy=no-user-gesture-required", "--mute-audio"],
});
try {
  practice(folder);
  const file = join(folder, "page.html");
  execFileSync(ringtrue, ["report", folder, "--out", file, "--title", `Week of ${HOSTILE}`]);
  const scratch = await browser.newPage();
  await scratch.goto("about:blank");

  for (const [name, width, height] of [["phone", 390, 844], ["desktop", 1280, 900]]) {
    const { page, noise } = await open(browser, file, width, height);
    const seen = await page.evaluate(() => ({
      wide: document.scrollingElement.scrollWidth - document.scrollingElement.clientWidth,
      scripts: document.scripts.length,
      images: document.images.length,
      broken: window.broken,
      title: document.title,
      text: document.body.innerText,
      pictures: document.querySelectorAll("svg").length,
      sounds: document.querySelectorAll("audio").length,
    }));
    check(seen.wide <= 0, `${name}: the page is ${seen.wide} px wider than the window`);
    check(seen.scripts === 0, `${name}: the page holds scripts`);
    check(seen.broken === undefined && seen.images === 0, `${name}: a name broke out into the page`);
    check(seen.title === `Week of ${HOSTILE}`, `${name}: the title reads ${seen.title}`);
    check(seen.text.includes(HOSTILE), `${name}: the oddly named chord cannot be read`);
    check(seen.text.includes("odd <b>&1.wav"), `${name}: the oddly named file cannot be read`);
    check(seen.pictures >= 12 && seen.sounds >= 4, `${name}: ${seen.pictures} pictures, ${seen.sounds} sounds`);

    await page.evaluate(() => document.querySelectorAll("details").forEach((d) => (d.open = true)));
    for (const [i, picture] of (await page.$$("svg")).entries()) {
      const box = await picture.boundingBox();
      check(box && box.width > 150 && box.height > 50, `${name}: picture ${i} has no room`);
      const count = await dark(scratch, Buffer.from(await picture.screenshot()), 0);
      check(count.all > 300, `${name}: picture ${i} is empty (${count.all} dark pixels)`);
    }
    await page.screenshot({ path: join(pictures, `${name}.png`), fullPage: true });

    // What was typed is in the page that the browser saves.
    const typed = `noted on the ${name}`;
    await page.click("#teacher");
    await page.keyboard.type(typed);
    const devtools = await page.createCDPSession();
    const { data } = await devtools.send("Page.captureSnapshot", { format: "mhtml" });
    check(data.replaceAll("=\r\n", "").includes(typed), `${name}: what was typed is not in the saved page`);

    for (const [i, sound] of (await page.$$("audio")).entries()) {
      const played = await sound.evaluate(async (audio) => {
        await audio.play();
        // A busy machine begins late; what does not play at all never gets there.
        for (let waited = 0; audio.currentTime <= 0.1 && waited < 10_000; waited += 50) {
          await new Promise((done) => setTimeout(done, 50));
        }
        audio.pause();
        return { at: audio.currentTime, of: audio.duration, error: audio.error?.message };
      });
      check(played.at > 0.1 && played.of > 1, `${name}: sound ${i} does not play: ${JSON.stringify(played)}`);
      const peak = await scratch.evaluate(async (src) => {
        const bytes = Uint8Array.from(atob(src.split(",")[1]), (c) => c.charCodeAt(0));
        const decoded = await new OfflineAudioContext(1, 1, 16000).decodeAudioData(bytes.buffer);
        return decoded.getChannelData(0).reduce((p, s) => Math.max(p, Math.abs(s)), 0);
      }, await sound.evaluate((audio) => audio.src));
      check(peak > 0.5, `${name}: sound ${i} is silent (peak ${peak})`);
    }
    check(noise.length === 0, `${name}: the browser says ${noise.join("; ")}`);
    await page.close();

    const checked = await browser.newPage();
    await checked.setBypassCSP(true);
    await checked.setViewport({ width, height });
    await checked.goto(pathToFileURL(file).href, { waitUntil: "load" });
    await checked.evaluate(() => document.querySelectorAll("details").forEach((d) => (d.open = true)));
    await checked.evaluate(axe);
    const result = await checked.evaluate(() => window.axe.run());
    for (const rule of result.violations) {
      check(false, `${name}: ${rule.id}: ${rule.help}: ${rule.nodes[0].html.slice(0, 150)}`);
    }
    check(result.passes.some((rule) => rule.id === "color-contrast"), `${name}: contrast was not looked at`);
    await checked.close();
  }

  for (const [format, width, height] of [["a4", 210, 297], ["letter", 215.9, 279.4]]) {
    const { page } = await open(browser, file, 1280, 900);
    const pdf = join(pictures, `${format}.pdf`);
    await page.pdf({ path: pdf, format, preferCSSPageSize: false, printBackground: true });
    await page.close();
    for (const old of readdirSync(pictures)) {
      if (old.startsWith(`${format}-`)) rmSync(join(pictures, old));
    }
    execFileSync("pdftoppm", ["-r", "50", "-png", pdf, join(pictures, format)]);
    const sheets = readdirSync(pictures).filter((f) => f.startsWith(`${format}-`)).sort();
    check(sheets.length >= 4, `${format}: ${sheets.length} pages`);
    for (const sheet of sheets) {
      // The margins of 15 mm hold nothing: nothing runs off a page.
      const count = await dark(scratch, readFileSync(join(pictures, sheet)), 0.05);
      check(count.all > 200, `${sheet} is empty`);
      check(count.margin === 0, `${sheet}: ${count.margin} pixels lie in the margins`);
      const ratio = count.width / count.height;
      check(Math.abs(ratio - width / height) < 0.01, `${sheet} has another size`);
    }
  }
} finally {
  await browser.close();
  rmSync(folder, { recursive: true });
}
end("page-check");
