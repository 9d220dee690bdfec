//! Makes the place of the built page, so that a clone without it still compiles.

fn main() {
    println!("cargo::rerun-if-changed=ui/dist");
    // If it cannot be made, the embedding says so itself.
    let _ = std::fs::create_dir_all("ui/dist");
}
