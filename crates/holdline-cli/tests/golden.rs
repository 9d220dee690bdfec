//! Transcripts that are also pages of the guide: what is shown there is what the program says.
//!
//! `cargo x golden --accept` writes them anew (`TRYCMD=overwrite` here); read the difference before it is committed.

use std::path::Path;

#[test]
fn transcripts() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    std::env::set_current_dir(&root).expect("the project's own folder");
    std::fs::create_dir_all("target/golden").expect("a place for what the transcripts write");
    let cases = trycmd::TestCases::new();
    cases.register_bin("holdline", Path::new(env!("CARGO_BIN_EXE_holdline")));
    cases.case("crates/holdline-cli/tests/golden/*.md");
}
