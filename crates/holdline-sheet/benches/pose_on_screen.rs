//! Section and plan of a pose as SVG: what stands between a moved slider and the screen.
//!
//! The person waits for a frame of 16 ms at most; a quarter of it is ours.

use holdline_sheet::machine_view::{Viewport, plan_on_screen, section_on_screen};
use holdline_sheet::svg::{Options, write_svg};
use holdline_sheet::words::Words;

#[path = "../tests/sample/mod.rs"]
mod sample;

fn main() {
    divan::main();
}

#[divan::bench]
fn section_and_plan(bencher: divan::Bencher<'_, '_>) {
    let view = sample::machine(28.0, -110.0, 57.0);
    let section = Viewport {
        width_px: 900.0,
        height_px: 560.0,
    };
    let plan = Viewport {
        width_px: 420.0,
        height_px: 300.0,
    };
    bencher.bench_local(|| {
        let a = write_svg(
            &section_on_screen(&view, section, &Words::ENGLISH),
            &Options::INLINE,
        );
        let b = write_svg(
            &plan_on_screen(&view, plan, &Words::ENGLISH),
            &Options::INLINE,
        );
        a.len() + b.len()
    });
}
