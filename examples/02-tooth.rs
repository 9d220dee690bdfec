//! The tooth: from readings to where it is, in 2D and in 3D, with its uncertainty.
//!
//! `cargo run -p holdline-examples --example 02-tooth`

use holdline::machine::front::ToolChoice;
use holdline::tooth::model::ToothModel;
use holdline::tooth::readings::Readings;
use holdline_examples::demo_machine;
use holdline_geom::fault::Faults;

/// One instant of the demo machine.
///
/// # Errors
///
/// A reading that is missing, or a linkage that cannot close.
pub fn main() -> Result<(), Faults> {
    let tool = ToolChoice {
        coupler: Some("QC-demo".to_owned()),
        tilt: None,
        bucket: "T75".to_owned(),
        tooth: "centre".to_owned(),
    };
    let model = ToothModel::new(&demo_machine()?, &tool)?;
    let deg = f64::to_radians;
    let readings = Readings {
        house_rad: Some([deg(2.0), deg(-1.5)]),
        // Boom, stick and idler as their gravity sensors read them; the house sensor is given above.
        sensors_rad: vec![
            Some(deg(24.001)),
            Some(deg(-63.999)),
            Some(deg(-4.153)),
            None,
        ],
        heading_rad: Some(deg(63.0)),
        antennas_m: vec![Some([5102.350, 2078.120, 27.385]), None],
    };
    let sd_m = [Some(0.008), Some(0.008), Some(0.015)];
    let measured = model.with_sheet_sds(&readings, Some(deg(0.1)), sd_m);
    let fix = model.fix(&measured)?;

    let level = fix.solution.tooth_level;
    println!(
        "forward of the swing axis {:.3} m, over track ground {:.3} m",
        level.x(),
        level.z()
    );
    if let (Some(site), Some(spread)) = (fix.solution.tooth_site, &fix.site) {
        println!("E {:.3}  N {:.3}  U {:.3} m", site.x(), site.y(), site.z());
        match spread.sd_m() {
            Some([e, n, u]) => {
                println!("± {:.3}, {:.3}, {:.3} m (k = 2)", 2.0 * e, 2.0 * n, 2.0 * u)
            }
            None => println!("no uncertainty stated: {}", spread.missing.join(", ")),
        }
        for share in spread.shares.iter().take(3) {
            println!(
                "  {:24} moves the height by {:+.1} mm",
                share.name,
                share.effect_m[2] * 1000.0
            );
        }
    }
    Ok(())
}
