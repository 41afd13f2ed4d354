// Called by scripts/page: TOOLS OUT. Puts the core and the files of src/page/site into one page.
import { createHash } from "node:crypto";
import { readFileSync, renameSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { gzipSync } from "node:zlib";

const [tools, out] = process.argv.slice(2).map((path) => resolve(path));
const need = createRequire(join(tools, "package.json"));
const { default: esbuild } = await import(pathToFileURL(need.resolve("esbuild")));
const site = (name) => join("src", "page", "site", name);

/** The largest page that may be made, in bytes: what an e-mail carries and a phone loads at once. */
const MOST_BYTES = 8e6;
/** The trained networks, which are most of the core: 32-bit numbers after a head of at least so many bytes. */
const HEAD_BYTES = 8;
const NETWORKS = [
  "src/strings/network/strums.bin",
  "src/strings/network/strokes.bin",
  "src/strings/buzz/buzz.bin",
  "src/progression/first_string/first_string.bin",
];

/** As `ringtrue licences` has them. */
const LICENCES = [
  "LICENSE",
  "src/cli/licences/built-in.txt",
  "fixtures/SOURCES.md",
  "src/report/plot/font/LICENSE",
  "src/cli/licences/crates.txt",
];

/** Bits of a number's 24 that a network does without: a page of 6 MB in place of 8. scripts/page-test holds what the page
 * says against the program. */
const DROPPED_BITS = 8;

/** Rounds 32-bit numbers, little-endian, in place. */
function round(numbers) {
  for (let at = 0; at < numbers.length; at += 4) {
    const bits = numbers.readUInt32LE(at) + 2 ** (DROPPED_BITS - 1);
    numbers.writeUInt32LE(bits - (bits % 2 ** DROPPED_BITS), at);
  }
}

/** All first bytes of the numbers, then all their second ones, and so on: alike beside alike packs better. */
function planes(numbers) {
  const count = numbers.length / 4;
  const apart = Buffer.alloc(numbers.length);
  for (let i = 0; i < numbers.length; i++) apart[(i % 4) * count + Math.floor(i / 4)] = numbers[i];
  return apart;
}

/** The core as src/page/site/core.js unpacks it. */
function packed(core) {
  const found = NETWORKS.flatMap((file) => {
    const network = readFileSync(file);
    const at = core.indexOf(network);
    const head = HEAD_BYTES + (network.length % 4);
    return at < 0 ? [] : [{ from: at + head, to: at + network.length }];
  }).sort((a, b) => a.from - b.from);
  const pieces = [];
  const parts = [];
  let at = 0;
  const add = (to, numbers) => {
    if (to === at) return;
    const part = core.subarray(at, to);
    if (numbers) round(part);
    pieces.push({ bytes: part.length, numbers });
    parts.push(numbers ? planes(part) : part);
    at = to;
  };
  for (const { from, to } of found) {
    add(from, false);
    add(to, true);
  }
  add(core.length, false);
  const head = Buffer.from(JSON.stringify(pieces));
  const length = Buffer.alloc(4);
  length.writeUInt32LE(head.length);
  const all = gzipSync(Buffer.concat([length, head, ...parts]), { level: 9 });
  console.log(`core: ${core.length} bytes, ${found.length} networks in it; packed: ${all.length} bytes`);
  return all.toString("base64");
}

function bundled(entry, bundle) {
  const { outputFiles } = esbuild.buildSync({
    entryPoints: [entry],
    bundle,
    format: bundle ? "iife" : undefined,
    charset: "utf8",
    minify: true,
    target: "es2022",
    write: false,
  });
  return outputFiles[0].text.trim();
}

const hash = (text) => `'sha256-${createHash("sha256").update(text).digest("base64")}'`;
const style = bundled(site("style.css"), false);
const main = bundled(site("main.js"), true);
const glue = readFileSync(join(tools, "core", "ringtrue.js"), "utf8");
const parts = {
  STYLE: style,
  MAIN: main,
  CORE: packed(readFileSync(join(tools, "core", "ringtrue_bg.wasm"))),
  WORKER: `${glue}\n${readFileSync(site("worker.js"), "utf8")}`,
  WORKLET: readFileSync(site("worklet.js"), "utf8"),
  LICENCES: LICENCES.map((file) => readFileSync(file, "utf8").trim())
    .join(`\n\n${"=".repeat(60)}\n\n`)
    .replace(/[&<>]/g, (letter) => `&#${letter.charCodeAt(0)};`),
  // Nothing may be fetched from anywhere; scripts are the page's own, by their sum or made by it.
  POLICY: [
    "default-src 'none'",
    `script-src ${hash(main)} blob: data: 'wasm-unsafe-eval'`,
    "worker-src blob:",
    `style-src ${hash(style)}`,
    "img-src data:",
    "media-src blob:",
    "connect-src 'none'",
    "base-uri 'none'",
    "form-action 'none'",
  ].join("; "),
};
for (const [name, text] of Object.entries(parts)) {
  if (/<\/(script|style)/i.test(text)) throw new Error(`${name} would end its own element`);
}
const page = readFileSync(site("index.html"), "utf8").replace(/@([A-Z]+)@/g, (_, name) => parts[name]);
if (Buffer.byteLength(page) > MOST_BYTES) {
  throw new Error(`the page has ${Buffer.byteLength(page)} bytes, at most ${MOST_BYTES} are wanted`);
}
// Never half a page under its name.
writeFileSync(`${out}.new`, page);
renameSync(`${out}.new`, out);
console.log(`${out}: ${Buffer.byteLength(page)} bytes`);
