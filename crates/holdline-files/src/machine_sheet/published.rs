//! What the reference publishes of the machine sheet is what the reader goes by.

use super::*;
use crate::document::schema::fits;

const SCHEMA: &str = include_str!("../../../../docs/reference/schema/machine.schema.json");
const PAGE: &str = include_str!("../../../../docs/reference/machine-sheet.md");
const DEMO: &str = include_str!("../../../../demo/demo-23.machine.toml");
const EVERY_FIELD: &str = include_str!("every_field.machine.toml");

#[test]
fn the_published_schema_is_current() {
    fits::current(
        "schema/machine.schema.json",
        SCHEMA,
        &machine_sheet_schema(),
    );
}

#[test]
fn the_published_page_is_current() {
    fits::current("machine-sheet.md", PAGE, &machine_sheet_reference());
}

#[test]
fn the_sheets_validate_and_spoilt_ones_do_not() {
    let check = |sheet: &str, want: bool| fits::check(SCHEMA, sheet, want);
    check(DEMO, true);
    check(EVERY_FIELD, true);
    let spoilt = |old: &str, new: &str| {
        assert!(DEMO.contains(old));
        check(&DEMO.replacen(old, new, 1), false);
    };
    spoilt("[stick]\nlength", "[stick]\nlenght");
    spoilt("sd = 0.010", "sd = 0.0");
    spoilt("branch = 1", "branch = 2");
    spoilt("kind = \"mono\"", "kind = \"offset\"");
    spoilt(
        "capsule = {",
        "box = { min = [0, 0, 0], max = [1, 1, 1] }\ncapsule = {",
    );
    spoilt("rod = \"E\"", "rod = \"F\"");
    spoilt("version = 1", "version = 2");
}

#[test]
fn every_key_is_on_the_page() {
    let page = machine_sheet_reference();
    for key in [
        "`idler_pivot`",
        "`along_linkage`",
        "`stroke_tolerance`",
        "`latency_ms`",
        "`tooth`",
    ] {
        assert!(page.contains(key), "no {key}");
    }
}
