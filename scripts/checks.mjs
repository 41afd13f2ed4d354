// Counts the checks of a script: one that fails is told at once, all at the end.

let [passed, failed] = [0, 0];

/** Notes whether something holds; says what does not. */
export function check(holds, what) {
  if (holds) {
    passed += 1;
    return;
  }
  failed += 1;
  console.log(`FAILED: ${what}`);
}

/** Says how many checks of the script `name` held, and ends it. */
export function end(name) {
  console.log(`${name}: ${passed} passed, ${failed} failed`);
  process.exit(failed === 0 ? 0 : 1);
}
