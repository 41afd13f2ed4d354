// The diary's storage: one record a take, in the form in which the program writes and reads takes.

const NAME = "ringtrue";
const TAKES = "takes";

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
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => request.result.createObjectStore(TAKES, { keyPath: ["at", "frets"] });
    request.onsuccess = () => {
      // Another tab with a newer page is not held up.
      request.result.onversionchange = () => request.result.close();
      done(request.result);
    };
    request.onerror = () => failed(request.error);
    request.onblocked = () => failed(new Error("another tab holds it"));
  });
  return opened;
}

/** Runs `act` on the takes and waits until what it wrote is stored. */
async function transact(mode, act) {
  const transaction = (await open()).transaction(TAKES, mode, { durability: "strict" });
  const over = new Promise((done, failed) => {
    transaction.oncomplete = done;
    transaction.onabort = transaction.onerror = () => failed(transaction.error);
  });
  const value = await act(transaction.objectStore(TAKES));
  await over;
  return value;
}

function refused(fault) {
  trouble =
    fault?.name === "QuotaExceededError"
      ? "The browser has no room left for the diary. Save it as a file before you close the page, then make room on the device."
      : "The browser does not let this page store anything. Save the diary as a file before you close the page.";
}

/** Stores a take; gives its key. What cannot be stored is kept as long as the page is open. */
export async function keep(entry) {
  try {
    await transact("readwrite", (takes) => asPromise(takes.put(entry)));
  } catch (fault) {
    refused(fault);
    unstored.set(JSON.stringify(key(entry)), entry);
  }
  return key(entry);
}

/** Takes a take out again. */
export async function remove(at) {
  unstored.delete(JSON.stringify(at));
  try {
    await transact("readwrite", (takes) => asPromise(takes.delete(at)));
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
    throw new Error(`${trouble} Nothing was taken in.`);
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
  return [...stored, ...unstored.values()].sort((a, b) => Date.parse(a.at) - Date.parse(b.at));
}

/** Takes everything out for good. */
export async function forget() {
  unstored.clear();
  try {
    await transact("readwrite", (takes) => asPromise(takes.clear()));
  } catch (fault) {
    refused(fault);
    throw new Error("The browser does not let this page change what is stored. Clear it in the browser's settings.");
  }
}

/** Asks the browser to keep the diary when room gets scarce; gives what it said, as a sentence. */
export async function persist() {
  const asked = await navigator.storage?.persist?.().catch(() => false);
  return asked
    ? "The browser keeps the diary until you clear it."
    : "The browser may clear the diary when room gets scarce. Save it as a file now and then.";
}
