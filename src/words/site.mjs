// Everything that the page for browsers shows, in English: `page` fills the gaps of its HTML (scripts/page.mjs does it),
// the other names are used by its scripts. What the core says stands in the Rust files beside this one.

/** For src/page/site/index.html, by the name between two @. */
export const page = {
  to_the_strings: "To the strings",
  what_it_does: "Strum a chord. Read, string by string, what happened.",
  needs_scripts: "This page needs JavaScript. Switch it on in the browser's settings.",
  parts: "Parts of the page",
  listen: "Listen",
  check: "Check a recording",
  practise: "Practise",
  diary: "Diary",
  getting_ready: "Getting ready …",

  what_you_play: "What you play:",
  chord: "Chord",
  or_its_frets: "Or its frets",
  tuning: "Tuning",
  capo: "Capo at fret",
  left_handed: "Left-handed pictures",
  how_frets_are_written: "Write the frets from string 6, the low E, to string 1. An x is a string that must not sound.",
  which_one: "Which one do you play?",

  asks_for_microphone: "The page needs the microphone. Your browser will ask you for it.",
  nothing_is_sent: "The sound stays on this device. Nothing is sent, and nothing is recorded unless you tick the box below.",
  a_metre_away: "Put the device about a metre from the guitar.",
  start: "Start listening",

  what_a_lesson_is: "A lesson leads you step by step. It goes on by itself, and both hands stay on the guitar.",
  lesson_microphone: "The page needs the microphone for it. The sound stays on this device.",
  choose_lesson: "Choose a lesson file",
  no_backing: "You cannot play along with a backing on this page. The program can do that.",

  keep_sound: "Keep the sound of each take on this device, for my teacher's page",
  what_was_heard: "What was heard",
  the_strings: "The strings of the last take, string 6 first",
  hear_it_clean: "Hear it clean",
  next_step: "Next step",
  stop: "Stop listening",
  level: "Level",
  what_came_out: "What came out of the lesson",
  last_takes: "The last ten takes",
  newest_right: "The newest take is on the right.",

  how_to_check: "Choose recordings of the chord that you named above. If you named none, the page looks for a chord that fits.",
  choose_recordings: "Choose recordings",
  or_drop: "Or drop files or a folder here. Voice notes from a messenger work, too.",

  diary_is_kept: "Every take that you play under Listen is kept in this browser, on this device.",
  save_diary: "Save the diary as a file",
  load_diary: "Add takes from a file",
  forget: "Delete all takes",
  forget_asks: "This deletes all takes for good.",
  forget_yes: "Yes, delete them",
  forget_no: "No, keep them",
  program_reads: "The program reads the same file, and writes one with --json:",

  for_teacher: "For your teacher",
  one_file: "One file with all numbers, and with the worst and the best take of each chord. It opens in any browser.",
  your_name: "Your name, for the head of the page",
  takes: "Takes",
  takes_all: "All in the diary",
  takes_week: "Of the last seven days",
  takes_since: "Since the last page",
  make_page: "Make the page for my teacher",

  signs: "Signs",
  hands_and_ears: "Hands and ears",
  volume: "Keep the volume low on headphones.",
  this_device_alone: "It works on this device alone. The page asks no network for anything. Save it, and it opens without one.",
  licences_of_all: "Licences of all that is built into the page",
  licences: "Licences",
};

const several = (count, one, many) => `${count} ${count === 1 ? one : many}`;

// The page as a whole.
export const ready = "Ready. Nothing leaves this device.";
export const begunAnew = "The analysis stopped and was started again. Press Start again; takes that were judged are kept.";
export const askAgain = "The analysis stopped. Try again.";
export const cannotRun = (why) => `This browser cannot run the page: ${why}. Use a browser of the last three years.`;
export const saveAgain = "Save it again";

// What is played.
export const anyChord = "any chord";
export const anyKnownChord = "any chord known here";
export const anyShape = (chord) => `${chord}, any shape`;
export const chooseShape = (headline) => `${headline} Open "What you play" and choose its picture.`;
export const notPlayed = "not played";
export const open = "open";
export const held = (fret, finger) => `fret ${fret}${finger ? `, finger ${finger}` : ""}`;
export const string = (number) => `string ${number}`;
export const voicing = (chord, frets, strings) =>
  `${chord ?? "Frets"} ${frets}. ${strings.map(([number, where]) => `${string(number)}: ${where}`).join("; ")}.`;

// The microphone.
export const notAllowed =
  "The browser does not let this page use the microphone. Allow it in the browser's settings for this page, then start again.";
export const noMicrophone = "No microphone was found. Plug one in or switch it on, then start again.";
export const inUse = "The microphone cannot be used: another program or tab has it. Close that one, then start again.";
export const doesNotWork = (why) => `The microphone does not work: ${why}. Start again, or check a recording.`;
export const notHere = "This browser gives the page no microphone here. Open the page from an https address, or check a recording.";
/** What a browser may do to the sound, by the browser's own names. */
export const filters = {
  echoCancellation: "echo cancellation",
  noiseSuppression: "noise suppression",
  autoGainControl: "automatic gain",
};
export const filtersOn = (names) =>
  `The browser keeps ${names.join(" and ")} on. Strings that ring may read as dead. Switch it off in the settings, or use another browser.`;
export const soundStopped = "The browser stopped the sound. Start listening again.";
export const switchedOff = "No sound comes from the microphone: it is switched off, or another tab or program has it.";
export const paused = "The device has paused the sound. Come back to this page and start listening again.";
export const thereNow = "A microphone is there now. Start listening.";
export const gone = "The microphone is gone: unplugged, or taken away. Your takes are kept. Plug it in and start listening again.";
export const tooSlow = "This device is too slow to follow. Close other pages and programs.";
export const stopListening = "Stop listening";

// A lesson.
export const stopLesson = "Stop the lesson";
export const beginLesson = "Begin this lesson";
export const cameOut = "What came out";
export const counted = (done, of, note, gapSeconds) =>
  [`${done} of ${of}.`, note, gapSeconds === null ? null : `${gapSeconds.toFixed(1)} s from chord to chord.`].filter(Boolean).join(" ");

// Recordings.
export const tooLong = (name, minutes) => `${name}: this kind of file is read up to ${minutes} minutes; cut it into parts.`;
export const tooLarge = (name, megabytes, most) =>
  `${name}: the file has ${megabytes} MB, and the page reads up to ${most}. Cut it into parts, or save it as M4A.`;
export const unreadable = (name) =>
  `${name}: the browser cannot read this file. Is it still there? Copy it to this device, then choose it again.`;
export const sixStrings = "Strings 6 to 1";
export const tryThis = "Try: ";
export const expected = (what, clock) => `Expected: ${what}, strummed at ${clock}.`;
export const play = "Play the take";
export const soundIsGone = "The sound of this take is no longer held. Check the recording again.";
export const show = "Show pictures";
export const pictures = "Pictures of the take";
export const inThePictures = (headline) => `How long each string rings, its partials, and the notes heard. ${headline}`;
export const reading = "Reading …";
export const position = (name, seconds, of) => `${name}: ${seconds}${of === null ? "" : ` of ${of}`} s`;
const takes = (count) => several(count, "take", "takes");
export const takesFound = (count) => `${takes(count)}.`;
export const cannotReadFolder = (name) =>
  `This browser does not let the page read the folder ${name}. Open it, and drop or choose the files in it.`;
export const emptyFolders = (names) =>
  `There is no recording in ${names.join(", ")}. Drop a folder that holds WAV, MP3, M4A or other sound files.`;
export const othersLeftOut = (count) =>
  `${several(count, "file in the folder is no recording and was", "files in the folder are no recordings and were")} left out.`;

// The diary.
export const inDiary = (count) => `${several(count, "take is", "takes are")} in the diary.`;
export const takeUpNext = "What to practise next";
export const byChord = "By chord";
export const byDay = "By day, the latest first";
export const heads = { chord: "chord", day: "day", takes: "takes", clean: "clean", sure: "sure, %" };
export const fromTo = (low, high) => `${low} to ${high}`;
export const whatTheTablesSay =
  "Clean: takes without a fault. Sure: where the true share lies with 95 % confidence; few takes say little.";
export const saved = (count) => `${several(count, "take was", "takes were")} saved.`;
export const takenIn = (added, of) => `${added} of ${several(of, "take was", "takes were")} new and ${added === 1 ? "is" : "are"} in the diary now.`;
export const heldElsewhere = "another tab holds it";
export const diaryFull =
  "The browser has no room left for the diary. Save it as a file before you close the page, then make room on the device.";
export const storageRefused = "The browser does not let this page store anything. Save the diary as a file before you close the page.";
export const soundsFull = "The browser has no room left for the sound of takes. The takes themselves are kept.";
export const nothingTakenIn = (why) => `${why} Nothing was added.`;
export const cannotForget = "The browser does not let this page change what is stored. Clear it in the browser's settings.";
export const staysStored = "The browser keeps the diary until you clear it.";
export const mayBeCleared = "The browser may clear the diary when room gets scarce. Save it as a file now and then.";

// The page for the teacher.
export const ofDiary = "It is made of the takes in the diary. Those whose sound was kept can be seen and heard.";
export const ofRecordings = "It is made of the recordings that you have checked here.";
/** The language in which days are written. */
export const language = "en-GB";
export const lastMade = (day) => `The last one was made on ${day}. The page says what has changed since.`;
export const noTake = "There is no take in the diary yet. Strum under Listen first.";
export const noTakeThen = "There is no take in these days. Choose all takes.";
export const summingUp = "Summing up …";
export const drawing = (done, of) => `Drawing take ${done} of ${of} …`;
export const writing = "Writing …";
export const made = (name, megabytes, missing) =>
  `The page is made: ${name}, ${megabytes} MB. Send that file to your teacher.${missing > 0 ? ` The sound of ${takes(missing)} could not be read and is left out.` : ""} `;
