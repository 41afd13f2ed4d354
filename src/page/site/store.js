// The diary's storage: one record a take, in the form in which the program writes and reads takes; and the sound of takes
// where the player has it kept.

import * as words from "../../words/site.mjs";

const NAME = "ringtrue";
const FORM = 2;
const TAKES = "takes";
const SOUNDS = "sounds";
/** The sound of so many takes is kept, the newest: some 200 MB. */
const MOST_SOUNDS = 500;

/** Takes that the browser did not store: they last as long as the page is open. */
const unstored = new Map();
let opened;
/** Why takes are not stored, as a sentence; null where they are. */
export let trouble = null;

const key = (entry) => [entry.at, entry.frets];
const asPromise = (request) =>
  new Promise((done, failed) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });

function open() {
  opened ??= new Promise((done, failed) => {
    const request = indexedDB.open(NAME, FORM);
    request.onupgradeneeded = ({ oldVersion }) => {
      if (oldVersion < 1) request.result.createObjectStore(TAKES, { keyPath: ["at", "frets"] });
      if (oldVersion < 2) request.result.createObjectStore(SOUNDS);
    };
    request.onsuccess = () => {
      // Another tab with a newer page is not held up.
      request.result.onversionchange = () => request.result.close();
      done(request.result);
    };
    request.onerror = () => failed(request.error);
    request.onblocked = () => failed(new Error(words.heldElsewhere));
  });
  return opened;
}

/** Runs `act` on takes and sounds and waits until what it wrote is stored. */
async function transact(mode, act) {
  const transaction = (await open()).transaction([TAKES, SOUNDS], mode, { durability: "strict" });
  const over = new Promise((done, failed) => {
    transaction.oncomplete = done;
    transaction.onabort = transaction.onerror = () => failed(transaction.error);
  });
  // Where `act` fails that is what is told.
  over.catch(() => {});
  const value = await act(transaction.objectStore(TAKES), transaction.objectStore(SOUNDS));
  await over;
  return value;
}

const isFull = (fault) => fault?.name === "QuotaExceededError";

function refused(fault) {
  trouble = isFull(fault)
    ? words.diaryFull
    : words.storageRefused;
}

/** Takes out all but so many sounds, the oldest first. */
async function thin(sounds, left) {
  const many = (await asPromise(sounds.count())) - left;
  if (many <= 0) return;
  for (const old of await asPromise(sounds.getAllKeys(null, many))) await asPromise(sounds.delete(old));
}

/** Stores takes; where there is no space, sounds make way. */
async function put(entries) {
  const all = (takes) => Promise.all(entries.map((entry) => asPromise(takes.put(entry))));
  try {
    await transact("readwrite", all);
  } catch (fault) {
    if (!isFull(fault)) throw fault;
    await transact("readwrite", (_, sounds) => asPromise(sounds.clear()));
    await transact("readwrite", all);
  }
}

/** Stores a take, and those before it that could not be; gives its key. What cannot be stored is kept as long as the page is
 * open. */
export async function keep(entry) {
  unstored.set(JSON.stringify(key(entry)), entry);
  try {
    await put([...unstored.values()]);
    unstored.clear();
    trouble = null;
  } catch (fault) {
    refused(fault);
  }
  return key(entry);
}

/** Whether takes that could not be stored would be lost with the page. */
export const wouldLose = () => trouble !== null && unstored.size > 0;

/** Keeps the sound of a take, where there is space. */
export async function keepSound(at, wav) {
  try {
    await transact("readwrite", async (_, sounds) => {
      await asPromise(sounds.put(wav, at));
      await thin(sounds, MOST_SOUNDS);
    });
  } catch (fault) {
    // Sounds are worth less than takes: half of them make way.
    await transact("readwrite", async (_, sounds) => thin(sounds, Math.floor((await asPromise(sounds.count())) / 2))).catch(() => {});
    trouble ??= isFull(fault) ? words.soundsFull : null;
  }
}

/** The sound of a take; undefined where none is kept. */
export const sound = (at) => transact("readonly", (_, sounds) => asPromise(sounds.get(at)));

/** Tells of which takes a sound is kept: their keys, as JSON. */
export async function withSound() {
  try {
    return new Set((await transact("readonly", (_, sounds) => asPromise(sounds.getAllKeys()))).map((at) => JSON.stringify(at)));
  } catch {
    return new Set();
  }
}

/** Takes a take out again. */
export async function remove(at) {
  unstored.delete(JSON.stringify(at));
  try {
    await transact("readwrite", (takes, sounds) => Promise.all([asPromise(takes.delete(at)), asPromise(sounds.delete(at))]));
  } catch (fault) {
    refused(fault);
  }
}

/** Stores many takes, all or none; gives how many were new. */
export async function keepAll(entries) {
  try {
    return await transact("readwrite", async (takes) => {
      let added = 0;
      for (const entry of entries) {
        if ((await asPromise(takes.count(key(entry)))) > 0) continue;
        await asPromise(takes.add(entry));
        added += 1;
      }
      return added;
    });
  } catch (fault) {
    refused(fault);
    throw new Error(words.nothingTakenIn(trouble));
  }
}

/** All takes, the oldest first. */
export async function all() {
  let stored = [];
  try {
    stored = await transact("readonly", (takes) => asPromise(takes.getAll()));
  } catch (fault) {
    refused(fault);
  }
  const takes = new Map([...stored, ...unstored.values()].map((entry) => [JSON.stringify(key(entry)), entry]));
  return [...takes.values()].sort((a, b) => Date.parse(a.at) - Date.parse(b.at));
}

/** Takes everything out for good. */
export async function forget() {
  unstored.clear();
  try {
    await transact("readwrite", (takes, sounds) => Promise.all([asPromise(takes.clear()), asPromise(sounds.clear())]));
  } catch (fault) {
    refused(fault);
    throw new Error(words.cannotForget);
  }
}

/** Asks the browser to keep the diary when space gets scarce; gives what it said, as a sentence. */
export async function persist() {
  const asked = await navigator.storage?.persist?.().catch(() => false);
  return asked ? words.staysStored : words.mayBeCleared;
}
