//! Every call of the interface: its good way and a refusal, over real TCP, on the demo job.

use crate::client::Bench;
use serde_json::{Value, json};

const MACHINE: &[u8] = include_bytes!("../../../../demo/demo-23.machine.toml");

pub fn hash_of(state: &Value, kind: &str) -> String {
    let documents = state["job"]["documents"].as_array().unwrap();
    let found = documents
        .iter()
        .find(|d| d["kind"] == kind && d["current"] == true);
    found.unwrap()["hash"].as_str().unwrap().to_owned()
}

pub fn tool(state: &Value) -> Value {
    json!({
        "machine": hash_of(state, "holdline.machine"),
        "coupler": "QC-demo", "tilt": null, "bucket": "T75", "tooth": "centre",
    })
}

pub fn with(base: &Value, more: Value) -> Value {
    let mut all = base.as_object().unwrap().clone();
    all.extend(more.as_object().unwrap().clone());
    Value::Object(all)
}

pub fn demo() -> (Bench, Value) {
    let bench = Bench::start();
    let made = bench.good(bench.post("/api/job/demo", &json!({})));
    assert!(made["steps"].as_array().unwrap().len() >= 9, "{made}");
    let state = bench.good(bench.get("/api/state"));
    (bench, state)
}

#[test]
fn a_job_is_made_filled_closed_and_opened_again() {
    let bench = Bench::start();
    assert_eq!(bench.good(bench.get("/api/state"))["job"], Value::Null);
    let said = bench.get("/api/chain");
    assert_eq!((said.status, said.code().as_str()), (409, "W010"));
    let path = bench
        .dir
        .path()
        .join("basin.holdline")
        .display()
        .to_string();
    let said = bench.post("/api/job", &json!({ "path": path, "create": false }));
    assert_eq!((said.status, said.code().as_str()), (400, "S001"));
    assert_eq!(
        bench.post("/api/job", &json!({ "path": " " })).code(),
        "W011"
    );
    let job = bench.good(bench.post("/api/job", &json!({ "path": path, "create": true })));
    assert_eq!(
        (job["name"].as_str(), job["readonly"].as_bool()),
        (Some("basin"), Some(false))
    );
    assert_eq!(
        bench
            .post("/api/job", &json!({ "path": path, "create": true }))
            .code(),
        "S006"
    );

    let taken = bench.good(bench.ask_with(
        "POST",
        "/api/documents?name=demo-23.machine.toml",
        "",
        MACHINE,
    ));
    assert_eq!(taken["kind"], "holdline.machine");
    let hash = taken["hash"].as_str().unwrap();
    assert_eq!(bench.get(&format!("/api/documents/{hash}")).body, MACHINE);
    let said = bench.get(&format!("/api/documents/{}", "0".repeat(64)));
    assert_eq!((said.status, said.code().as_str()), (404, "S020"));
    assert_eq!(bench.get("/api/documents/abc").code(), "R001");

    let broken = String::from_utf8_lossy(MACHINE).replace("value = 2.940", "value = 29.40");
    let said = bench.ask_with(
        "POST",
        "/api/documents?name=broken.toml",
        "",
        broken.as_bytes(),
    );
    assert_eq!(said.status, 400);
    let json = said.json();
    let faults = json["faults"].as_array().unwrap();
    let fault = faults.iter().find(|f| f["code"] == "M012").unwrap();
    assert!(
        fault["line"].as_u64().unwrap() > 1 && fault["at"] == "stick.length",
        "{fault}"
    );

    bench.good(bench.post("/api/job/close", &json!({})));
    assert_eq!(bench.good(bench.get("/api/state"))["job"], Value::Null);
    let job = bench.good(bench.post("/api/job", &json!({ "path": path, "create": false })));
    assert_eq!(job["documents"].as_array().unwrap().len(), 1);
    bench.stop();
}

#[test]
fn a_sheet_is_edited_with_its_faults_at_their_fields() {
    let (bench, state) = demo();
    let hash = hash_of(&state, "holdline.machine");
    let form = bench.good(bench.get(&format!("/api/machine/{hash}/form")));
    assert_eq!(form["faults"], json!([]));
    assert_eq!(form["parts"]["couplers"], json!(["QC-demo"]));
    assert_eq!(
        form["parts"]["buckets"][0]["teeth"],
        json!(["left", "centre", "right"])
    );
    assert!(form["form"]["groups"].as_array().unwrap().len() > 5);
    let edit = json!({ "path": "stick.length", "value": 13.1, "sd": 0.003 });
    let bad = bench.good(bench.post(
        "/api/machine/edit",
        &json!({ "text": form["text"], "edits": [edit] }),
    ));
    assert_eq!(bad["faults"][0]["at"], "stick.length");
    let said = bench.post(
        "/api/machine/save",
        &json!({ "name": "demo-23.machine.toml", "text": bad["text"] }),
    );
    assert_eq!((said.status, said.code().as_str()), (400, "M012"));
    let edit = json!({ "path": "stick.length", "value": 2.941, "sd": 0.002 });
    let good = bench.good(bench.post(
        "/api/machine/edit",
        &json!({ "text": form["text"], "edits": [edit] }),
    ));
    assert_eq!(good["faults"], json!([]));
    let saved = bench.good(bench.post(
        "/api/machine/save",
        &json!({ "name": "demo-23.machine.toml", "text": good["text"] }),
    ));
    assert_ne!(saved["hash"].as_str(), Some(hash.as_str()));
    let state = bench.good(bench.get("/api/state"));
    let records = state["job"]["records"].as_array().unwrap();
    assert!(
        records.iter().all(|r| r["stale"].is_string()),
        "{records:?}"
    );
    let shots = hash_of(&state, "holdline.shots");
    assert_eq!(
        bench.get(&format!("/api/machine/{shots}/form")).code(),
        "F065"
    );
}

#[test]
fn a_pose_is_drawn_and_a_place_reached() {
    let (bench, state) = demo();
    let pose = with(
        &tool(&state),
        json!({
            "joints_deg": { "boom": 28.0, "stick": -110.0, "bucket": 57.0 },
            "pitch_deg": 0.9193, "roll_deg": 0.7713, "heading_deg": 60.0, "mode": "3d",
            "stand": { "e": 5056.0, "n": 2041.5, "u": 24.174 }, "bench_height": null,
            "position_sd_m": { "h": 0.008, "v": 0.012 },
            "view": { "section": { "w_mm": 130, "h_mm": 95 }, "plan": { "w_mm": 60, "h_mm": 55 } },
        }),
    );
    let view = bench.good(bench.post("/api/pose", &pose));
    let figures = view["figures"].as_array().unwrap();
    let easting = figures.iter().find(|f| f["label"] == "Easting").unwrap();
    assert!(
        (easting["value"].as_f64().unwrap() - 5060.0259).abs() < 2e-4,
        "{easting}"
    );
    assert!(
        easting["uncertainty_text"]
            .as_str()
            .unwrap()
            .starts_with('±')
    );
    assert!(
        view["sheets"]["section"]
            .as_str()
            .unwrap()
            .starts_with("<svg")
    );
    let names: Vec<&str> = view["joints"]
        .as_array()
        .unwrap()
        .iter()
        .map(|j| j["name"].as_str().unwrap())
        .collect();
    assert_eq!(names, ["swing", "boom", "stick", "bucket"]);
    assert!(
        view["links"]
            .as_array()
            .unwrap()
            .iter()
            .all(|l| l["matrix"].as_array().unwrap().len() == 16)
    );
    let said = bench.post("/api/pose", &with(&pose, json!({ "bucket": "T76" })));
    assert_eq!((said.status, said.code().as_str()), (400, "T001"));

    let ask = with(
        &pose,
        json!({ "target": { "e": 5059.45, "n": 2043.4076, "u": 26.3134 }, "attitude_deg": null }),
    );
    let found = bench.good(bench.post("/api/reach", &ask));
    assert!(found["joints_deg"]["boom"].is_number() && found["heading_deg"].is_number());
    let said = bench.post(
        "/api/reach",
        &with(&ask, json!({ "target": { "x": 30.0, "z": 0.0 } })),
    );
    assert_eq!((said.status, said.code().as_str()), (400, "T020"));
    assert_eq!(bench.post("/api/reach", &pose).code(), "W008");
}

#[test]
fn a_check_is_looked_at_recorded_signed_printed_and_computed_again() {
    let (bench, state) = demo();
    let body = with(
        &tool(&state),
        json!({
            "shots": hash_of(&state, "holdline.shots"), "rows": null, "daily": null,
            "tolerance": { "up_m": 0.05, "down_m": 0.05, "plan_m": 0.10 },
            "position_sd_m": { "h": 0.004, "v": 0.006 },
        }),
    );
    let look = bench.good(bench.post("/api/verify", &body));
    assert_eq!(
        look["result"]["outcome"], "pass",
        "{}",
        look["result"]["decision"]
    );
    assert_eq!(look["result"]["rows"].as_array().unwrap().len(), 8);
    let svg = look["svg"].as_str().unwrap();
    assert!(svg.starts_with("<svg") && svg.contains("tolerance") && !svg.contains("style="));
    let open = with(
        &body,
        json!({ "tolerance": { "up_m": null, "down_m": null, "plan_m": null } }),
    );
    assert_eq!(
        bench.good(bench.post("/api/verify", &open))["result"]["outcome"],
        "not_shown"
    );
    assert_eq!(
        bench
            .post("/api/verify", &with(&body, json!({ "shots": null })))
            .code(),
        "V032"
    );

    let n_before = state["job"]["records"].as_array().unwrap().len();
    assert_eq!(bench.post("/api/records", &body).code(), "R011");
    let made = bench.good(bench.post(
        "/api/records",
        &with(&body, json!({ "made_by": "A. Example" })),
    ));
    let seq = made["seq"].as_u64().unwrap();
    let said = bench.post(
        &format!("/api/records/{seq}/sign"),
        &json!({ "name": "", "role": "engineer" }),
    );
    assert_eq!((said.status, said.code().as_str()), (400, "R011"));
    bench.good(bench.post(
        &format!("/api/records/{seq}/sign"),
        &json!({ "name": "A. Example", "role": "engineer" }),
    ));
    let state = bench.good(bench.get("/api/state"));
    let records = state["job"]["records"].as_array().unwrap();
    assert_eq!(records.len(), n_before + 1);
    assert_eq!(records[n_before]["signatures"][0]["name"], "A. Example");

    let shown = bench.good(bench.get(&format!("/api/records/{seq}")));
    assert_eq!(shown["result"]["outcome"], "pass");
    assert_eq!(shown["about"]["bucket"], "T75 on QC-demo");
    let page = bench.get(&format!("/api/records/{seq}/sheet.svg"));
    assert_eq!(page.header("content-type"), Some("image/svg+xml"));
    assert!(String::from_utf8_lossy(&page.body).contains("SIGNED"));
    assert!(
        bench
            .get(&format!("/api/records/{seq}/sheet.pdf"))
            .body
            .starts_with(b"%PDF")
    );
    assert!(
        bench
            .get(&format!("/api/records/{seq}/sheet.png"))
            .body
            .starts_with(b"\x89PNG")
    );
    assert!(
        bench
            .get(&format!("/api/records/{seq}/card.pdf"))
            .body
            .starts_with(b"%PDF")
    );
    assert_eq!(
        bench
            .get(&format!("/api/records/{seq}/sheet.svg?page=99"))
            .code(),
        "R043"
    );
    assert_eq!(bench.get("/api/records/9999").status, 404);
    assert_eq!(bench.get("/api/records/one").code(), "W005");

    let again = bench.good(bench.post(&format!("/api/records/{seq}/recompute"), &json!({})));
    assert_eq!(
        (again["same"].as_bool(), again["same_bytes"].as_bool()),
        (Some(true), Some(true)),
        "{again}"
    );
    let first = records.iter().find(|r| r["kind"] == "verify").unwrap()["seq"]
        .as_u64()
        .unwrap();
    let said = bench.post(
        &format!("/api/records/{seq}/supersede"),
        &json!({ "by": first, "reason": "no" }),
    );
    assert_eq!(said.code(), "R040");
    bench.good(bench.post(
        &format!("/api/records/{first}/supersede"),
        &json!({ "by": seq, "reason": "checked again with the same shots" }),
    ));
    let state = bench.good(bench.get("/api/state"));
    let old = state["job"]["records"]
        .as_array()
        .unwrap()
        .iter()
        .find(|r| r["seq"] == first)
        .unwrap()
        .clone();
    assert_eq!(old["superseded_by"], seq);
    let chain = bench.good(bench.get("/api/chain"));
    assert_eq!(chain["whole"], true);
}

#[test]
fn a_morning_is_judged_with_the_one_before() {
    let (bench, state) = demo();
    let daily = json!({
        "bench": "C5", "shown_m": 24.316, "known_m": 24.310, "shown_sd_m": 0.008, "known_sd_m": 0.003,
        "wear_m": null, "limits_tried": "held", "changes": ["weld"], "initials": "AE",
    });
    let body = with(
        &tool(&state),
        json!({ "tolerance": { "up_m": 0.03, "down_m": 0.03, "plan_m": null }, "daily": daily }),
    );
    let look = bench.good(bench.post("/api/verify", &body));
    assert_eq!(look["result"]["outcome"], "pass");
    // The demo ends with a knocked sensor: what was due then stays due.
    let recheck = look["result"]["recheck"].as_array().unwrap();
    let said = |word: &str| {
        recheck
            .iter()
            .any(|why| why.as_str().unwrap().contains(word))
    };
    assert!(said("weld") && said("was not shown to hold"), "{look}");
    assert!(look["svg"].as_str().unwrap().starts_with("<svg"));
    let made = bench.good(bench.post(
        "/api/records",
        &with(&body, json!({ "made_by": "A. Example" })),
    ));
    let seq = made["seq"].as_u64().unwrap();
    let again = bench.good(bench.post(&format!("/api/records/{seq}/recompute"), &json!({})));
    assert_eq!(again["same_bytes"], true, "{again}");
    let mut bad = body.clone();
    bad["daily"]["limits_tried"] = json!("perhaps");
    bad["daily"]["bench"] = json!("");
    let said = bench.post("/api/verify", &bad);
    assert_eq!(said.code(), "V034");
    assert_eq!(said.json()["faults"].as_array().unwrap().len(), 2);
}

#[test]
fn codes_are_explained() {
    let bench = Bench::start();
    let told = bench.good(bench.get("/api/explain/w001"));
    assert!(told["text"].as_str().unwrap().contains("token"));
    assert_eq!(bench.get("/api/explain/Z999").status, 404);
}

#[test]
fn what_was_answered_is_in_the_file_after_a_stop() {
    let bench = Bench::start();
    let path = bench.dir.path().join("kept.holdline");
    bench.good(bench.post(
        "/api/job",
        &json!({ "path": path.display().to_string(), "create": true }),
    ));
    let taken = bench.good(bench.ask_with("POST", "/api/documents?name=m.toml", "", MACHINE));
    // Moved out of the bench's own folder, which goes with it.
    let other = tempfile::tempdir().unwrap();
    let copy = other.path().join("kept.holdline");
    let port = bench.port;
    let from = path.clone();
    let token = bench.token.clone();
    assert_eq!(token.len(), 64);
    std::fs::copy(&from, &copy).unwrap();
    bench.stop();
    assert!(
        std::net::TcpStream::connect(("127.0.0.1", port)).is_err(),
        "the port is free again"
    );
    let bench = Bench::start_with(Some(copy));
    let state = bench.good(bench.get("/api/state"));
    assert_eq!(state["job"]["documents"][0]["hash"], taken["hash"]);
    assert_ne!(bench.token, token, "a new token at every start");
}
