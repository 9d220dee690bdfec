//! Who may come in, over real TCP.

use crate::client::Bench;
use serde_json::json;

#[test]
fn no_token_and_a_wrong_one_are_refused() {
    let bench = Bench::start();
    let host = format!("Host: 127.0.0.1:{}\r\nConnection: close\r\n", bench.port);
    let none = bench.raw(&format!("GET /api/state HTTP/1.1\r\n{host}\r\n"), b"");
    assert_eq!((none.status, none.code().as_str()), (401, "W001"));
    assert_eq!(none.header("www-authenticate"), Some("Bearer"));
    let wrong = "0".repeat(64);
    for said in [
        wrong.as_str(),
        "",
        &bench.token[1..],
        &format!("{} ", "x".repeat(4000)),
    ] {
        let head = format!("GET /api/state HTTP/1.1\r\n{host}Authorization: Bearer {said}\r\n\r\n");
        assert_eq!(bench.raw(&head, b"").status, 401, "{said:.20}");
    }
    // Two tokens, one of them right: nobody guesses which was meant.
    let twice = format!(
        "GET /api/state HTTP/1.1\r\n{host}Authorization: Bearer {wrong}\r\nAuthorization: Bearer {}\r\n\r\n",
        bench.token
    );
    assert_eq!(bench.raw(&twice, b"").status, 401);
    // Not in the query either: addresses end up in histories.
    let query = format!(
        "GET /api/state?token={} HTTP/1.1\r\n{host}\r\n",
        bench.token
    );
    assert_eq!(bench.raw(&query, b"").status, 401);
    assert_eq!(bench.get("/api/state").status, 200);
}

#[test]
fn another_name_for_this_computer_is_refused() {
    let bench = Bench::start();
    let with_host = |host: &str| {
        let head = format!(
            "GET /api/state HTTP/1.1\r\n{host}Authorization: Bearer {}\r\nConnection: close\r\n\r\n",
            bench.token
        );
        bench.raw(&head, b"")
    };
    let port = bench.port;
    for foreign in [
        format!("Host: rebound.example:{port}\r\n"),
        "Host: 127.0.0.1\r\n".to_owned(),
        format!("Host: 127.0.0.1:{}\r\n", port.wrapping_add(1)),
        format!("Host: 127.0.0.1.example:{port}\r\n"),
        format!("Host: 127.0.0.1:{port}\r\nHost: rebound.example:{port}\r\n"),
        "Host: \r\n".to_owned(),
    ] {
        let said = with_host(&foreign);
        assert!(
            said.status == 403 || said.status == 400,
            "{foreign}: {}",
            said.status
        );
    }
    assert_eq!(
        with_host(&format!("Host: localhost:{port}\r\n")).status,
        200
    );
    // A whole address in the request line must be ours too.
    let head = format!(
        "GET http://rebound.example:{port}/api/state HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nAuthorization: Bearer {}\r\nConnection: close\r\n\r\n",
        bench.token
    );
    assert_ne!(bench.raw(&head, b"").status, 200);
    // The page itself is guarded as well.
    let page =
        format!("GET / HTTP/1.1\r\nHost: rebound.example:{port}\r\nConnection: close\r\n\r\n");
    assert_eq!(bench.raw(&page, b"").status, 403);
}

#[test]
fn another_page_is_refused_even_with_the_token() {
    let bench = Bench::start();
    let port = bench.port;
    for origin in [
        "http://site.example",
        "https://127.0.0.1",
        "null",
        "http://127.0.0.1",
    ] {
        let said = bench.ask_with("GET", "/api/state", &format!("Origin: {origin}\r\n"), b"");
        assert_eq!(
            (said.status, said.code().as_str()),
            (403, "W003"),
            "{origin}"
        );
        assert_eq!(said.header("access-control-allow-origin"), None);
    }
    let own = format!("Origin: http://127.0.0.1:{port}\r\nSec-Fetch-Site: same-origin\r\n");
    assert_eq!(bench.ask_with("GET", "/api/state", &own, b"").status, 200);
    for site in ["cross-site", "same-site"] {
        let said = bench.ask_with(
            "GET",
            "/api/state",
            &format!("Sec-Fetch-Site: {site}\r\n"),
            b"",
        );
        assert_eq!((said.status, said.code().as_str()), (403, "W004"), "{site}");
    }
    // A question whether another page may ask gets no leave.
    let asks = "Origin: http://site.example\r\nAccess-Control-Request-Method: POST\r\n";
    let said = bench.ask_with("OPTIONS", "/api/job", asks, b"");
    assert_eq!(said.status, 403);
    assert_eq!(said.header("access-control-allow-origin"), None);
}

#[test]
fn bodies_too_large_or_of_another_kind_are_refused() {
    let bench = Bench::start();
    let large = vec![b' '; 4_000_001];
    let json_kind = "Content-Type: application/json\r\n";
    let said = bench.ask_with("POST", "/api/pose", json_kind, &large);
    assert_eq!((said.status, said.code().as_str()), (413, "W006"));
    let said = bench.ask_with("POST", "/api/job", "Content-Type: text/plain\r\n", b"{}");
    assert_eq!((said.status, said.code().as_str()), (415, "W007"));
    for bad in ["{", "[]", "{\"path\": 7}", "\u{0}"] {
        let said = bench.ask_with("POST", "/api/job", json_kind, bad.as_bytes());
        assert_eq!((said.status, said.code().as_str()), (400, "W008"), "{bad}");
    }
}

#[test]
fn every_answer_carries_the_guarding_headers() {
    let bench = Bench::start();
    for said in [
        bench.get("/"),
        bench.get("/api/state"),
        bench.get("/nothing"),
        bench.get("/api/nothing"),
    ] {
        let policy = said.header("content-security-policy").unwrap();
        assert!(policy.contains("default-src 'self'") && policy.contains("frame-ancestors 'none'"));
        assert!(!policy.contains("unsafe"));
        assert_eq!(said.header("x-content-type-options"), Some("nosniff"));
        assert_eq!(said.header("referrer-policy"), Some("no-referrer"));
        assert_eq!(said.header("cache-control"), Some("no-store"));
    }
    let said = bench.get("/api/nothing");
    assert_eq!((said.status, said.code().as_str()), (404, "W005"));
    assert_eq!(bench.post("/api/state", &json!({})).status, 404);
    for path in [
        "/../Cargo.toml",
        "/%2e%2e/Cargo.toml",
        "/..%2fCargo.toml",
        "//etc/passwd",
    ] {
        let said = bench.get(path);
        assert!(
            said.status == 404 || said.status == 400,
            "{path}: {}",
            said.status
        );
    }
}

#[test]
fn a_link_may_lead_to_the_page_and_to_nothing_else() {
    let bench = Bench::start();
    let led = |path: &str, mode: &str, dest: &str| {
        let more = format!(
            "Sec-Fetch-Site: cross-site\r\nSec-Fetch-Mode: {mode}\r\nSec-Fetch-Dest: {dest}\r\n"
        );
        bench.ask_with("GET", path, &more, b"").status
    };
    assert_eq!(led("/", "navigate", "document"), 200);
    assert_eq!(led("/", "navigate", "iframe"), 403);
    assert_eq!(led("/", "no-cors", "script"), 403);
    assert_eq!(led("/api/state", "navigate", "document"), 403);
    assert_eq!(led("/assets/index.js", "navigate", "document"), 403);
    let post =
        "Sec-Fetch-Site: cross-site\r\nSec-Fetch-Mode: navigate\r\nSec-Fetch-Dest: document\r\n";
    assert_eq!(bench.ask_with("POST", "/", post, b"").status, 403);
}
