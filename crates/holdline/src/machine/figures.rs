//! A machine's figures one by one, by the path that the sheet gives each.
//!
//! The names are those that the uncertainty of a tooth gives its sources, so that a figure in a list,
//! in a calibration and on a budget is the same word everywhere.

use super::claim::{
    ClaimedBoomKind, ClaimedCoupler, ClaimedMachine, ClaimedTilt, PlanePoint, SpacePoint,
};
use holdline_geom::measured::Measured;

/// What a figure counts in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FigureUnit {
    /// Metres.
    Metre,
    /// Radians.
    Radian,
}

/// One figure.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// Its path through the sheet, such as `boom.length`, `sensor[S-boom].offset`,
    /// `bucket[T75].tooth[left].at.x`.
    pub path: String,
    /// What it counts in.
    pub unit: FigureUnit,
    /// Its value and standard uncertainty on the sheet.
    pub measured: Measured,
}

/// Path of what is taken off a heading that is read.
pub const HEADING_OFFSET: &str = "heading.offset";

impl ClaimedMachine {
    /// Every figure that places the tooth or that a calibration can find, in the order of the sheet.
    ///
    /// A heading offset is always among them: one that the sheet does not give is zero, without an
    /// uncertainty.
    pub fn figures(&self) -> Vec<Figure> {
        let mut all = Vec::new();
        let mut sheet = self.clone();
        visit(&mut sheet, &mut |path, unit, measured| {
            all.push(Figure {
                path,
                unit,
                measured: *measured,
            });
        });
        if self.heading_offset.is_none() {
            all.push(Figure {
                path: HEADING_OFFSET.to_owned(),
                unit: FigureUnit::Radian,
                measured: Measured::without_sd(0.0),
            });
        }
        all
    }

    /// One figure; none where the sheet has no such path.
    pub fn figure(&self, path: &str) -> Option<Figure> {
        self.figures()
            .into_iter()
            .find(|figure| figure.path == path)
    }

    /// The same machine with other values for some figures.
    ///
    /// # Errors
    ///
    /// The paths that it does not have.
    pub fn with_figures(
        &self,
        figures: &[(&str, Measured)],
    ) -> Result<ClaimedMachine, Vec<String>> {
        let mut sheet = self.clone();
        let mut left: Vec<&(&str, Measured)> = figures.iter().collect();
        if let Some((_, measured)) = figures.iter().find(|(path, _)| *path == HEADING_OFFSET) {
            sheet.heading_offset = Some(*measured);
        }
        visit(&mut sheet, &mut |path, _, measured| {
            left.retain(|(wanted, new)| {
                let here = *wanted == path;
                if here {
                    *measured = *new;
                }
                !here
            });
        });
        if left.is_empty() {
            Ok(sheet)
        } else {
            Err(left.iter().map(|(path, _)| (*path).to_owned()).collect())
        }
    }
}

type Visit<'a> = dyn FnMut(String, FigureUnit, &mut Measured) + 'a;

fn visit(sheet: &mut ClaimedMachine, f: &mut Visit<'_>) {
    use FigureUnit::{Metre, Radian};
    match (&mut sheet.swing_post, &mut sheet.boom.foot) {
        (Some(post), _) => {
            space("swing_post.at", &mut post.at, f);
            space("swing_post.foot", &mut post.foot, f);
        }
        (None, Some(foot)) => space("boom.foot", foot, f),
        (None, None) => {}
    }
    match &mut sheet.boom.kind {
        ClaimedBoomKind::Mono { length } => f("boom.length".to_owned(), Metre, length),
        ClaimedBoomKind::TwoPiece { lower, upper } => {
            f("boom.lower".to_owned(), Metre, lower);
            f("boom.upper".to_owned(), Metre, upper);
        }
        ClaimedBoomKind::Offset { lower, link, upper } => {
            f("boom.lower".to_owned(), Metre, lower);
            f("boom.link".to_owned(), Metre, link);
            f("boom.upper".to_owned(), Metre, upper);
        }
    }
    f("stick.length".to_owned(), Metre, &mut sheet.stick.length);
    let linkage = &mut sheet.linkage;
    plane("linkage.idler_pivot", &mut linkage.idler_pivot, f);
    f("linkage.idler".to_owned(), Metre, &mut linkage.idler);
    f("linkage.link".to_owned(), Metre, &mut linkage.link);
    f("linkage.ear".to_owned(), Metre, &mut linkage.ear);
    for one in &mut sheet.couplers {
        coupler(one, f);
    }
    for one in &mut sheet.tilts {
        tilt(one, f);
    }
    for bucket in &mut sheet.buckets {
        for tooth in &mut bucket.teeth {
            let path = format!("bucket[{}].tooth[{}].at", bucket.id, tooth.name);
            space(&path, &mut tooth.at, f);
        }
    }
    for sensor in &mut sheet.sensors {
        f(
            format!("sensor[{}].offset", sensor.id),
            Radian,
            &mut sensor.offset,
        );
        if let Some(roll) = &mut sensor.roll_offset {
            f(format!("sensor[{}].roll_offset", sensor.id), Radian, roll);
        }
    }
    for antenna in &mut sheet.antennas {
        space(
            &format!("antenna[{}].lever", antenna.id),
            &mut antenna.lever,
            f,
        );
    }
    if let Some(offset) = &mut sheet.heading_offset {
        f(HEADING_OFFSET.to_owned(), Radian, offset);
    }
}

fn coupler(coupler: &mut ClaimedCoupler, f: &mut Visit<'_>) {
    let path = format!("coupler[{}]", coupler.id);
    plane(&format!("{path}.front_pin"), &mut coupler.front_pin, f);
    f(
        format!("{path}.rotation"),
        FigureUnit::Radian,
        &mut coupler.rotation,
    );
}

fn tilt(tilt: &mut ClaimedTilt, f: &mut Visit<'_>) {
    use FigureUnit::Radian;
    let path = format!("tilt[{}]", tilt.id);
    space(&format!("{path}.axis_at"), &mut tilt.axis_at, f);
    f(format!("{path}.axis_angle"), Radian, &mut tilt.axis_angle);
    if let Some(rotation) = &mut tilt.rotation {
        let path = format!("{path}.rotation");
        space(&format!("{path}.axis_at"), &mut rotation.axis_at, f);
        f(
            format!("{path}.axis_angle"),
            Radian,
            &mut rotation.axis_angle,
        );
    }
    space(&format!("{path}.front_pin"), &mut tilt.front_pin, f);
    f(
        format!("{path}.bucket_rotation"),
        Radian,
        &mut tilt.bucket_rotation,
    );
}

fn plane(path: &str, at: &mut PlanePoint, f: &mut Visit<'_>) {
    f(format!("{path}.x"), FigureUnit::Metre, &mut at.x);
    f(format!("{path}.z"), FigureUnit::Metre, &mut at.z);
}

fn space(path: &str, at: &mut SpacePoint, f: &mut Visit<'_>) {
    f(format!("{path}.x"), FigureUnit::Metre, &mut at.x);
    f(format!("{path}.y"), FigureUnit::Metre, &mut at.y);
    f(format!("{path}.z"), FigureUnit::Metre, &mut at.z);
}
