//! Makes the demo job at a path and tells every step: `cargo run -p holdline-steps --example run_demo -- PATH`.

use std::path::PathBuf;

use holdline_steps::demo::make_demo;

fn main() {
    let path = std::env::args()
        .nth(1)
        .map_or_else(|| PathBuf::from("demo.holdline"), PathBuf::from);
    let made = make_demo(&path, &mut |step| {
        println!("{}/{} {}", step.number, step.of, step.text)
    });
    match made {
        Ok(view) => view.files.iter().for_each(|file| println!("wrote {file}")),
        Err(faults) => println!("{faults}"),
    }
}
