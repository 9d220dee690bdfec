//! Calibrate, hand over, budget, readiness and the diagnosis behind a check, over real TCP, on the demo job.

use crate::calls::{demo, hash_of, tool, with};
use serde_json::{Value, json};

fn is_svg(value: &Value) -> bool {
    value.as_str().is_some_and(|text| text.starts_with("<svg"))
}

#[test]
fn a_fit_is_looked_at_and_recorded_and_its_calibration_used() {
    let (bench, state) = demo();
    let body = with(
        &tool(&state),
        json!({
            "observations": [hash_of(&state, "holdline.observations")],
            "position_sd_m": { "h": 0.004, "v": 0.006 }, "who": "A. Example", "with": "total station",
        }),
    );
    let look = bench.good(bench.post("/api/calibrate/fit", &body));
    assert_eq!(look["outcome"], "pass", "{}", look["words"]);
    assert_eq!(look["rejected"].as_array().unwrap().len(), 1);
    for plot in ["residuals", "correlations", "tooth", "poses"] {
        assert!(is_svg(&look["sheets"][plot]), "{plot}");
    }
    let text = look["calibration_text"].as_str().unwrap();
    assert!(text.contains("holdline.calibration"));

    let made = bench.good(bench.post(
        "/api/records",
        &with(
            &body,
            json!({ "kind": "calibrate", "made_by": "A. Example" }),
        ),
    ));
    let calibration = made["calibration"].as_str().unwrap();
    let seq = made["seq"].as_u64().unwrap();
    let again = bench.good(bench.post(&format!("/api/records/{seq}/recompute"), &json!({})));
    assert_eq!(again["same_bytes"], true, "{again}");
    let sheet = bench.get(&format!("/api/records/{seq}/sheet.svg?page=1"));
    assert_eq!(sheet.status, 200);

    let calibrated = with(&tool(&state), json!({ "calibration": calibration }));
    let terms = json!({ "terms": hash_of(&state, "holdline.terms"), "allowed_m": 0.01 });
    let handed = bench.good(bench.post("/api/calibrate/hand-over", &with(&calibrated, terms)));
    assert_eq!(handed["outcome"], "pass", "{}", handed["words"]);
    assert!(is_svg(&handed["sheets"]["page"]));

    let asked = with(&body, json!({ "n": 2, "shot_sd_m": 0.003 }));
    let next = bench.good(bench.post("/api/calibrate/next", &asked));
    assert!(!next["poses"].as_array().unwrap().is_empty());
    assert!(next["csv"].as_str().unwrap().contains("kind"));

    let other = with(
        &calibrated,
        json!({ "machine": hash_of(&state, "holdline.shots") }),
    );
    assert_eq!(bench.post("/api/pose", &other).status, 400);
    let nothing = bench.post("/api/calibrate/fit", &tool(&state));
    assert_eq!(nothing.code(), "V042");
}

#[test]
fn a_budget_follows_a_pose_and_is_recorded_with_its_map() {
    let (bench, state) = demo();
    let body = with(
        &tool(&state),
        json!({
            "mode": "3d", "position_sd_m": { "h": 0.008, "v": 0.015 },
            "localization_sd_m": { "h": 0.005, "v": 0.008 }, "pin_play_m": 0.0005, "deflection_m": 0.005,
            "latency_s": 0, "speed_m_s": 0, "touch_sd_m": 0.006, "mark_sd_m": 0, "bench_sd_m": 0.002,
            "rebenches": 3, "tolerance": { "up_m": 0.1, "down_m": 0.1 }, "heading_deg": 60,
            "grid": { "n_forward": 12, "n_up": 12 },
        }),
    );
    let look = bench.good(bench.post("/api/budget/pose", &body));
    assert_eq!(look["verdict"]["answer"], "pass", "{}", look["verdict"]);
    assert!(is_svg(&look["sheets"]["section"]) && is_svg(&look["sheets"]["growth"]));
    assert_eq!(look["growth"]["rows"].as_array().unwrap().len(), 4);
    let map = bench.good(bench.post("/api/budget/map", &body));
    assert!(is_svg(&map["sheets"]["plan"]));
    assert!(
        map["monte_carlo"]["text"]
            .as_str()
            .unwrap()
            .contains("Monte Carlo")
    );
    let made = bench.good(bench.post(
        "/api/records",
        &with(&body, json!({ "kind": "budget", "made_by": "A. Example" })),
    ));
    let seq = made["seq"].as_u64().unwrap();
    let again = bench.good(bench.post(&format!("/api/records/{seq}/recompute"), &json!({})));
    assert_eq!(again["same_bytes"], true, "{again}");

    // What nobody stated is unknown.
    let mut unknown = body.clone();
    unknown["deflection_m"] = Value::Null;
    let look = bench.good(bench.post("/api/budget/pose", &unknown));
    assert_eq!(look["verdict"]["answer"], "not_shown");
    let mut bad = body;
    bad["touch_sd_m"] = json!(12);
    assert_eq!(bench.post("/api/budget/pose", &bad).code(), "V050");
}

#[test]
fn a_knock_is_diagnosed_and_readiness_told() {
    let (bench, state) = demo();
    let shots = state["job"]["documents"].as_array().unwrap();
    let knocked = shots
        .iter()
        .find(|d| d["name"] == "S1-knocked.shots.csv")
        .unwrap();
    let body = with(
        &tool(&state),
        json!({
            "calibration": hash_of(&state, "holdline.calibration"), "shots": knocked["hash"],
            "position_sd_m": { "h": 0.004, "v": 0.006 },
            "tolerance": { "up_m": 0.05, "down_m": 0.05, "plan_m": 0.1 },
        }),
    );
    let look = bench.good(bench.post("/api/verify", &body));
    let diagnosis = &look["result"]["diagnosis"];
    assert_eq!(diagnosis["outcome"], "single", "{diagnosis}");
    let best = &diagnosis["rows"][0];
    assert!(
        best["label"].as_str().unwrap().contains("bucket sensor"),
        "{best}"
    );
    assert!(is_svg(&diagnosis["sheets"]["arrows"]) && is_svg(&diagnosis["sheets"]["ranking"]));

    let machine = hash_of(&state, "holdline.machine");
    let ready = bench.good(bench.get(&format!("/api/machine/{machine}/readiness")));
    assert!(!ready["jobs"].as_array().unwrap().is_empty());
}
