//! page-glue FILE.wasm FOLDER: writes the scripts by which a page calls what the file exports, and the file without what only
//! they need. `scripts/page` runs it.

use anyhow::Context;
use wasm_bindgen_cli_support::Bindgen;

fn main() -> anyhow::Result<()> {
    let mut arguments = std::env::args_os().skip(1);
    let file = arguments.next().context("FILE.wasm is missing")?;
    let folder = arguments.next().context("FOLDER is missing")?;
    Bindgen::new()
        .input_path(file)
        .no_modules(true)?
        .typescript(false)
        .remove_name_section(true)
        .remove_producers_section(true)
        .generate(folder)
}
