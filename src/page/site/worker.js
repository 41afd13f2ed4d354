// The worker: all hearing happens here, in the core that is compiled from Rust. Each message is a call with an id; the
// answer has the same id. The microphone's samples come through a port of their own, straight from the worklet.

let listen = null;
let port = null;
let told = 0;
/** Recordings that were checked, by number. */
const checks = new Map();
/** The sound of so many of their takes is held, some 300 MB; the oldest recording lets its go first. */
const MOST_SOUNDS = 300;
/** The page for the teacher that is being made. */
let report = null;
/** The level is told so often, in ms. */
const LEVEL_MS = 100;

/** Tells the page what the microphone brought, where that is anything. */
function tell(said) {
  if (!said) return;
  const news = JSON.parse(said);
  for (const one of news.heard) if (one.word === "over") one.sound = listen.sound(one.number);
  postMessage({ news, board: JSON.parse(listen.board()) });
}

function samples({ data }) {
  if (!listen) return;
  try {
    if (data.lost > 0) tell(listen.lost(data.lost));
    tell(listen.push(data.samples));
    const now = Date.now();
    if (now - told < LEVEL_MS) return;
    told = now;
    postMessage({
      level: { dbfs: listen.level_dbfs(), word: listen.level_word(), silence: listen.silence() ?? null, late_ms: now - data.at, status: JSON.parse(listen.board()).status },
    });
  } catch (fault) {
    postMessage({ broken: String(fault) });
  }
}

/** Ends listening; gives what came out of the lesson, where there was one. */
function finish() {
  if (!listen) return null;
  tell(listen.finish());
  const results = listen.results() ?? null;
  listen.free();
  listen = null;
  port.close();
  return results;
}

/** Lets the sound of the oldest recordings go where there is too much. */
function thin() {
  let held = 0;
  for (const check of [...checks.values()].reverse()) {
    held += check.sounds();
    if (held > MOST_SOUNDS) check.forget_sounds();
  }
}

const calls = {
  begin({ core }) {
    wasm_bindgen.initSync({ module: core });
    return { ...JSON.parse(wasm_bindgen.about()), font: wasm_bindgen.font() };
  },
  voicings: ({ meant }) => JSON.parse(wasm_bindgen.voicings(meant)),
  reference: ({ meant, rate }) => wasm_bindgen.reference(meant, rate),
  lessons: () => JSON.parse(wasm_bindgen.lessons()),
  listen({ meant, lesson, seed, rate, began, from, sounds }) {
    finish();
    listen = lesson ? wasm_bindgen.Listen.practise(meant, lesson, seed, rate, began) : new wasm_bindgen.Listen(meant, rate, began);
    if (sounds) listen.keep_sound();
    port = from;
    port.onmessage = samples;
    return JSON.parse(listen.board());
  },
  leave: () => listen && tell(listen.leave()),
  expect({ meant }) {
    if (!listen) return null;
    listen.expect(meant);
    return JSON.parse(listen.board());
  },
  ignore: ({ seconds }) => listen?.ignore(seconds),
  stop: finish,
  check({ number, meant, name, bytes }) {
    const check = new wasm_bindgen.Check(meant, name, bytes);
    checks.set(number, check);
    return { duration_s: check.duration_s() };
  },
  step({ number }) {
    const check = checks.get(number);
    const takes = JSON.parse(check.step());
    const ended = check.ended();
    if (ended) thin();
    return {
      takes,
      ended,
      position_s: check.position_s(),
      problem: ended ? (check.problem() ?? null) : null,
      report: ended ? check.report() : null,
    };
  },
  picture: ({ number, take, width }) => checks.get(number)?.picture(take, width) ?? null,
  sound: ({ number, take }) => checks.get(number)?.sound(take) ?? null,
  gather({ meant, learner, last, diary, recordings }) {
    report?.free();
    report = new wasm_bindgen.Report(meant, learner, last);
    report.add_diary(diary);
    for (const { number, name, why } of recordings) {
      if (why) report.leave_out(name, why);
      else report.add_checked(checks.get(number), number);
    }
    return JSON.parse(report.gather());
  },
  show({ take, sound, bytes }) {
    if (bytes) return report.show(take, bytes);
    const [number, index] = sound.split("/").map(Number);
    return report.show_checked(take, checks.get(number), index);
  },
  page: () => ({ page: report.page(), numbers: report.numbers() }),
  // "import" is a word of the language: the tool puts a line before it.
  import: ({ name, text }) => wasm_bindgen._import(name, text),
  progress: ({ lines, now }) => JSON.parse(wasm_bindgen.progress(lines, now)),
};

onmessage = ({ data }) => {
  try {
    postMessage({ id: data.id, value: calls[data.call](data) });
  } catch (fault) {
    // A sentence is an error of the core; all else is a fault of the page, after which the core is not to be trusted.
    const sentence = fault instanceof Error && !(fault instanceof WebAssembly.RuntimeError) && !(fault instanceof TypeError);
    postMessage({ id: data.id, error: fault.message ?? String(fault), broken: sentence ? undefined : String(fault) });
  }
};
