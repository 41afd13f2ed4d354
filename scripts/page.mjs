// Called by scripts/page: TOOLS OUT. Puts the core and the files of src/page/site into one page.
import { spawnSync } from "node:child_process";
import { createHash } from "node:crypto";
import { mkdtempSync, readFileSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { deflateRawSync } from "node:zlib";
import { fromLetters, toLetters } from "../src/page/site/letters.mjs";
import { page as words } from "../src/words/site.mjs";

const [tools, out] = process.argv.slice(2).map((path) => resolve(path));
const need = createRequire(join(tools, "package.json"));
const { default: esbuild } = await import(pathToFileURL(need.resolve("esbuild")));
const site = (name) => join("src", "page", "site", name);

/** The largest page that may be made, in bytes: what an e-mail carries and a phone loads at once. */
const MOST_BYTES = 5e6;
/** The trained networks, which are most of the core. */
const NETWORKS = ["strums", "strokes", "buzz", "first_string", "sweep"].map((name) => `src/layers/trained/${name}.safetensors`);

/** As `ringtrue licences` has them. */
const LICENCES = [
  "LICENSE",
  "src/cli/licences/built-in.txt",
  "fixtures/SOURCES.md",
  "src/report/plot/font/LICENSE",
  "src/cli/licences/crates.txt",
];

/** Where the numbers of a network's file begin, and how many bytes each has: a file of safetensors has one kind here. */
function numbersOf(network) {
  const begin = 8 + Number(network.readBigUInt64LE(0));
  const { __metadata__, ...tensors } = JSON.parse(network.toString("utf8", 8, begin));
  const [kind, ...others] = new Set(Object.values(tensors).map(({ dtype }) => dtype));
  const width = { F16: 2, F32: 4 }[kind];
  if (!width || others.length > 0) throw new Error(`a network has numbers of ${[kind, ...others]}: F16 or F32 is expected`);
  return { begin, width };
}

/** All last bytes of the numbers, then all those before them, and so on: alike beside alike packs better. */
function planes(numbers, width) {
  const count = numbers.length / width;
  const apart = Buffer.alloc(numbers.length);
  for (let i = 0; i < numbers.length; i++) apart[(i % width) * count + Math.floor(i / width)] = numbers[i];
  return apart;
}

/** The core and the licences as src/page/site/core.js unpacks them. */
function packed(core, licences) {
  const found = NETWORKS.flatMap((file) => {
    const network = readFileSync(file);
    const at = core.indexOf(network);
    const { begin, width } = numbersOf(network);
    return at < 0 ? [] : [{ from: at + begin, to: at + network.length, width }];
  }).sort((a, b) => a.from - b.from);
  const pieces = [];
  const parts = [];
  let at = 0;
  const add = (to, width) => {
    if (to === at) return;
    const part = core.subarray(at, to);
    pieces.push({ bytes: part.length, width });
    parts.push(width > 1 ? planes(part, width) : part);
    at = to;
  };
  for (const { from, to, width } of found) {
    add(from, 1);
    add(to, width);
  }
  add(core.length, 1);
  const head = Buffer.from(JSON.stringify(pieces));
  const length = Buffer.alloc(4);
  length.writeUInt32LE(head.length);
  const all = deflated(Buffer.concat([length, head, ...parts, Buffer.from(licences)]));
  console.log(`core: ${core.length} bytes, ${found.length} networks in it; packed with the licences: ${all.length} bytes`);
  const letters = toLetters(all);
  if (!all.equals(fromLetters(letters))) throw new Error("the core does not come out of its letters as it went in");
  return letters;
}

// The same form by a program that seeks longer: some per cent smaller. Level 9 where it is missing.
function deflated(bytes) {
  const folder = mkdtempSync(join(tmpdir(), "page-"));
  try {
    const file = join(folder, "core");
    writeFileSync(file, bytes);
    const { status } = spawnSync("zopfli", ["--deflate", "--i3", file]);
    return status === 0 ? readFileSync(`${file}.deflate`) : deflateRawSync(bytes, { level: 9, memLevel: 9 });
  } finally {
    rmSync(folder, { recursive: true });
  }
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

const small = (script) => esbuild.transformSync(script, { charset: "utf8", minify: true, target: "es2022" }).code;
const hash = (text) => `'sha256-${createHash("sha256").update(text).digest("base64")}'`;
const style = bundled(site("style.css"), false);
const main = bundled(site("main.js"), true);
const glue = readFileSync(join(tools, "core", "ringtrue.js"), "utf8");
const licences = LICENCES.map((file) => readFileSync(file, "utf8").trim()).join(`\n\n${"=".repeat(60)}\n\n`);
const parts = {
  STYLE: style,
  MAIN: main,
  CORE: packed(readFileSync(join(tools, "core", "ringtrue_bg.wasm")), licences),
  WORKER: small(`${glue}\n${readFileSync(site("worker.js"), "utf8")}`),
  WORKLET: small(readFileSync(site("worklet.js"), "utf8")),
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
const escaped = (text) => text.replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll('"', "&quot;");
const said = new Set(Object.keys(words));
const page = readFileSync(site("index.html"), "utf8").replace(/@(\w+)@/g, (_, name) => {
  said.delete(name);
  if (!(name in parts || name in words)) throw new Error(`the page asks for ${name}, which src/words/site.mjs has not`);
  return parts[name] ?? escaped(words[name]);
});
if (said.size > 0) throw new Error(`nothing shows ${[...said].join(", ")} of src/words/site.mjs`);
if (Buffer.byteLength(page) > MOST_BYTES) {
  throw new Error(`the page has ${Buffer.byteLength(page)} bytes, at most ${MOST_BYTES} are wanted`);
}
// Never half a page under its name.
writeFileSync(`${out}.new`, page);
renameSync(`${out}.new`, out);
console.log(`${out}: ${Buffer.byteLength(page)} bytes`);
