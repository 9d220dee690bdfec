//! The body of a record: what is read as canonical gives the same bytes again.
#![cfg_attr(fuzzing, no_main)]

use holdline::records::Body;

holdline_fuzz::target!(record_body, seeds: &["fuzz/seeds/record_body.json"]);

fn record_body(bytes: &[u8]) {
    if let Ok(body) = Body::read("fuzz", bytes) {
        assert_eq!(
            body.bytes(),
            bytes,
            "another form of the same body was let in"
        );
    }
}
