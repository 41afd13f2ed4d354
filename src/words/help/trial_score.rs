//! Help of `ringtrue trial score`.

pub const ABOUT: &str = "Say how right the verdicts are on sets of sounds whose strings are known";
pub const LONG_ABOUT: &str = "\
Say how right the verdicts are on sets of sounds whose strings are known

A set is a folder with sounds and a table, truth.csv; fixtures/LABELLED.md
describes it. Each take is judged as check judges it, its chord named, and with
--guitar by what a trial learnt of that guitar too. A set that was packed is
read too.";
pub const AFTER: &str = "\
Exit status:
  0  all sets were scored
  2  a set is not as it should be and was left out, or an argument is wrong";
pub const SETS: &str = "Sets: folders with a truth.csv, or files that pack wrote";
pub const WRONG: &str = "List the takes that are not right, with what was done and what was said";
pub const JSON: &str = "Write JSON, one object";
