//! The published JSON Schemas of the answers: `docs/reference/schema/` says what this version gives.
//!
//! `HOLDLINE_ACCEPT=1 cargo test -p holdline-steps --test schema` writes them anew.

use std::fs;
use std::path::PathBuf;

use holdline_steps::budget::{BudgetAsk, BudgetBody, BudgetView};
use holdline_steps::calibrate::{
    CalibrateAsk, FitBody, FitView, HandOverAsk, HandOverBody, HandOverView, NextAsk, NextView,
};
use holdline_steps::demo::DemoView;
use holdline_steps::job::{ChainView, ImportView, JobView};
use holdline_steps::machine_view::MachineView;
use holdline_steps::pose::{PoseAsk, PoseView};
use holdline_steps::reach::{ReachAsk, ReachView};
use holdline_steps::readiness::ReadinessView;
use holdline_steps::records::{RecomputeView, RecordBodyView};
use holdline_steps::sheet_form::{SheetEditAsk, SheetView};
use holdline_steps::verify::{CheckBody, CheckView, DailyBody, VerifyAsk};
use holdline_steps::views::FaultsView;
use schemars::{Schema, schema_for};

fn schemas() -> Vec<(&'static str, Schema)> {
    vec![
        ("faults", schema_for!(FaultsView)),
        ("machine-view", schema_for!(MachineView)),
        ("sheet-form", schema_for!(SheetView)),
        ("sheet-edit.ask", schema_for!(SheetEditAsk)),
        ("pose.ask", schema_for!(PoseAsk)),
        ("pose", schema_for!(PoseView)),
        ("reach.ask", schema_for!(ReachAsk)),
        ("reach", schema_for!(ReachView)),
        ("verify.ask", schema_for!(VerifyAsk)),
        ("verify", schema_for!(CheckView)),
        ("record-body.verify", schema_for!(CheckBody)),
        ("record-body.daily", schema_for!(DailyBody)),
        ("calibrate-fit.ask", schema_for!(CalibrateAsk)),
        ("calibrate-fit", schema_for!(FitView)),
        ("record-body.calibrate", schema_for!(FitBody)),
        ("calibrate-next.ask", schema_for!(NextAsk)),
        ("calibrate-next", schema_for!(NextView)),
        ("calibrate-hand-over.ask", schema_for!(HandOverAsk)),
        ("calibrate-hand-over", schema_for!(HandOverView)),
        ("record-body.hand-over", schema_for!(HandOverBody)),
        ("budget.ask", schema_for!(BudgetAsk)),
        ("budget", schema_for!(BudgetView)),
        ("record-body.budget", schema_for!(BudgetBody)),
        ("readiness", schema_for!(ReadinessView)),
        ("job", schema_for!(JobView)),
        ("import", schema_for!(ImportView)),
        ("record", schema_for!(RecordBodyView)),
        ("recompute", schema_for!(RecomputeView)),
        ("chain", schema_for!(ChainView)),
        ("demo", schema_for!(DemoView)),
    ]
}

#[test]
fn the_published_schemas_are_those_of_this_version() {
    let dir = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../docs/reference/schema");
    let accept = std::env::var_os("HOLDLINE_ACCEPT").is_some_and(|v| v == "1");
    let mut other = Vec::new();
    for (name, schema) in schemas() {
        let path = dir.join(format!("{name}.schema.json"));
        let text = serde_json::to_string_pretty(&schema).unwrap() + "\n";
        if accept {
            fs::create_dir_all(&dir).unwrap();
            fs::write(&path, &text).unwrap();
        }
        if fs::read_to_string(&path).ok().as_deref() != Some(text.as_str()) {
            other.push(name);
        }
    }
    assert!(
        other.is_empty(),
        "not as published: {other:?}; HOLDLINE_ACCEPT=1 writes them anew"
    );
}
