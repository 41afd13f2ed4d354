//! Texts of `--help`, one file a command. A constant is called as the option is; `ABOUT` is said of the command.

pub mod backing;
pub mod check;
pub mod chord;
pub mod demo;
pub mod diary;
pub mod guitar;
pub mod listen;
pub mod play;
pub mod plot;
pub mod practice;
pub mod program;
pub mod progress;
pub mod put_right;
pub mod report;
pub mod route;
pub mod shapes;
pub mod soundcheck;
pub mod trial;
pub mod trial_add;
pub mod trial_pack;
pub mod trial_score;
