//! The drawings of a pose on a screen.

use holdline::machine::claim::Joint;
use holdline::tooth::model::ToothModel;
use holdline_geom::fault::Faults;
use holdline_geom::measured::Measured;
use holdline_sheet::machine_view::{MachineView, Viewport, plan_on_screen, section_on_screen};
use holdline_sheet::svg::{Options, write_svg};
use holdline_sheet::words::Words;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::picture::{Sitter, ToothFigures, picture};
use crate::pose::{Mode, PageSize, PoseAsk, PoseFix, SetPose, fix_pose};
use crate::units::Units;

/// Section and plan, SVG.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
pub struct Drawings {
    /// Section in the boom plane.
    pub section: String,
    /// Plan.
    pub plan: String,
}

/// Draws a pose.
///
/// # Errors
///
/// As [`picture`].
pub(crate) fn pose(
    model: &ToothModel,
    ask: &PoseAsk,
    set: &SetPose,
    found: &PoseFix,
) -> Result<Drawings, Faults> {
    let view = sitting(model, ask, set, found)?;
    let sizes = ask.view.unwrap_or_default();
    let words = Words::ENGLISH;
    let section = section_on_screen(&view, viewport(&sizes.section), &words);
    let plan = plan_on_screen(&view, viewport(&sizes.plan), &words);
    let inline = |key| Options {
        key,
        ..Options::INLINE
    };
    Ok(Drawings {
        section: write_svg(&section, &inline("section")),
        plan: write_svg(&plan, &inline("plan")),
    })
}

/// The machine in a pose, for a drawing.
fn sitting(
    model: &ToothModel,
    ask: &PoseAsk,
    set: &SetPose,
    found: &PoseFix,
) -> Result<MachineView, Faults> {
    let joint_sd_rad = |joint: Joint| found.joint_sd_rad(joint);
    picture(&Sitter {
        machine: model.machine(),
        choice: model.choice(),
        set,
        joint_sds_rad: &joint_sd_rad,
        tooth_figures: tooth_figures(ask.mode, ask.units, found),
        bench_m: ask.bench_height,
        on_site: ask.mode == Mode::ThreeD,
        units: ask.units,
    })
}

/// The machine in a pose, for a sheet of paper: the window fits the pose.
///
/// # Errors
///
/// As [`pose`].
pub(crate) fn for_paper(model: &ToothModel, ask: &PoseAsk) -> Result<MachineView, Faults> {
    let front = model.geometry().front.values();
    let set = ask.set(model.machine(), &front)?;
    let found = fix_pose(model, ask, &set)?;
    let view = sitting(model, ask, &set, &found)?;
    Ok(MachineView {
        section_window: None,
        plan_window: None,
        ..view
    })
}

/// Letters of 9 pt on the page size asked for are letters of 16 px on the screen.
pub(crate) fn viewport(size: &PageSize) -> Viewport {
    const PX_PER_MM: f64 = 16.0 / (9.0 * 25.4 / 72.0);
    Viewport {
        width_px: size.w_mm * PX_PER_MM,
        height_px: size.h_mm * PX_PER_MM,
    }
}

/// What stands beside the tooth: on the site northing, easting, elevation; else forward and up.
pub(crate) fn tooth_figures(mode: Mode, units: Units, found: &PoseFix) -> ToothFigures {
    let solution = &found.fix.solution;
    let one = |name: &str, value: f64, sd: Option<f64>, kind| {
        (name.to_owned(), Measured { value, sd }, kind)
    };
    match (mode, &solution.tooth_site, &found.fix.site) {
        (Mode::ThreeD, Some(tooth), Some(spread)) => {
            let sd = spread.sd_m();
            let axis = |idx: usize| sd.map(|sd| sd[idx]);
            vec![
                one("N", tooth.y(), axis(1), units.length()),
                one("E", tooth.x(), axis(0), units.length()),
                one("El", tooth.z(), axis(2), units.length()),
            ]
        }
        (Mode::ThreeD | Mode::TwoD, _, _) => {
            let sd = found.fix.level.sd_m();
            let axis = |idx: usize| sd.map(|sd| sd[idx]);
            let tooth = &solution.tooth_level;
            vec![
                one("forward", tooth.x(), axis(0), units.signed()),
                one("up", tooth.z(), axis(2), units.signed()),
            ]
        }
    }
}
