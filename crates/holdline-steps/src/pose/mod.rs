//! The machine in one pose: where the tooth is, with what uncertainty, and how it looks.

mod ask;
mod edge;
mod figures;
mod joint_sds;
mod links;

pub use ask::{Mode, PageSize, PoseAsk, SetPose, SitePlace, Views};
pub use edge::EdgePointView;
use joint_sds::AngleSds;

pub(crate) use figures::bucket_attitude_rad;
pub use links::LinkView;

use holdline::machine::Machine;
use holdline::machine::claim::Joint;
use holdline::machine::jacobian::joints_fitted;
use holdline::machine::joints::Joints;
use holdline::tooth::model::{ToothFix, ToothModel};
use holdline::tooth::readings::Readings;
use holdline_geom::fault::Faults;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::drawings::{self, Drawings};
use crate::views::{FigureView, FindingView};

/// A joint with its range.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct JointView {
    /// Name, as on the sheet.
    pub name: String,
    /// Name for people.
    pub label: String,
    /// Angle, degrees.
    pub deg: f64,
    /// Least angle of the nominal range, degrees; none where the range is not known.
    pub min_deg: Option<f64>,
    /// Largest angle of the nominal range, degrees.
    pub max_deg: Option<f64>,
    /// Whether it lies outside the nominal range.
    pub outside: bool,
    /// Which stroke has ended, in words.
    pub limit_words: Option<String>,
}

/// Everything that is shown of a pose.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PoseView {
    /// Figures with ready text.
    pub figures: Vec<FigureView>,
    /// Joints in working order, swing first.
    pub joints: Vec<JointView>,
    /// Section and plan, SVG.
    pub sheets: Drawings,
    /// Where every link is.
    pub links: Vec<LinkView>,
    /// Every tooth point, corner of the edge and end of the heel.
    pub edge: Vec<EdgePointView>,
    /// What to look at.
    pub findings: Vec<FindingView>,
    /// What the uncertainty includes and leaves out.
    pub uncertainty_words: Vec<String>,
}

/// Where the uncertainty of a fix comes from.
#[derive(Debug, Clone, PartialEq)]
pub enum Basis {
    /// As the fitted sensors would read the pose.
    Sensors,
    /// The lengths of the sheet alone; angles as typed. Why.
    Lengths(String),
}

/// The tooth in a pose.
#[derive(Debug, Clone, PartialEq)]
pub struct PoseFix {
    /// The tooth with its spread.
    pub fix: ToothFix,
    /// Where the spread comes from.
    pub basis: Basis,
    /// True where a typed heading was used on the site, not a pair of antennas.
    pub heading_typed: bool,
    angle_sds: AngleSds,
}

impl PoseFix {
    /// Standard uncertainty of the pins that the tool hangs on, above level, rad.
    pub fn attitude_sd_rad(&self) -> Option<f64> {
        self.angle_sds.attitude_rad.filter(|sd| 0.0 < *sd)
    }

    /// Standard uncertainty of a joint's angle, rad; none where angles were typed or a source has none.
    pub fn joint_sd_rad(&self, joint: Joint) -> Option<f64> {
        let found = self.angle_sds.joints_rad.iter().find(|(j, _)| *j == joint);
        found.and_then(|(_, sd)| *sd).filter(|sd| 0.0 < *sd)
    }
}

/// The tooth and the machine in one pose.
///
/// # Errors
///
/// `T001` unknown tool, `T010` `T011` a linkage that cannot close there, `T030` `T031` `T032` what was typed;
/// all at once where they do not hide each other.
///
/// # Caution
///
/// A drawn pose plans; it moves nothing and guards nothing.
pub fn pose(machine: &Machine, ask: &PoseAsk) -> Result<PoseView, Faults> {
    let model = ToothModel::new(machine, &ask.tool.choice())?;
    pose_of(&model, ask)
}

/// As [`pose`], with the tool already chosen.
///
/// # Errors
///
/// As [`pose`].
pub fn pose_of(model: &ToothModel, ask: &PoseAsk) -> Result<PoseView, Faults> {
    let machine = model.machine();
    let front = model.geometry().map(&mut |_, m| m.value).front;
    let set = ask.set(machine, &front)?;
    let linkage = machine.linkage_pose(set.joints.bucket)?;
    let found = fix_pose(model, ask, &set)?;
    let joints: Vec<JointView> = joints_fitted(&front)
        .into_iter()
        .map(|joint| joint_view(machine, joint, &set.joints))
        .collect();
    let mut findings: Vec<FindingView> = joints_fitted(&front)
        .into_iter()
        .filter_map(|joint| machine.beyond_range(joint, set.joints.get(joint)))
        .map(|fault| FindingView::of_fault(&fault))
        .collect();
    findings.extend(figures::findings(&found, &linkage, ask));
    Ok(PoseView {
        figures: figures::figures(machine, &front, ask, &set, &found)?,
        sheets: drawings::pose(model, ask, &set, &found)?,
        links: links::links(machine, model.choice(), &set.joints)?,
        edge: edge::edge(machine, &front, ask, &found)?,
        uncertainty_words: figures::uncertainty_words(&found, ask, machine),
        joints,
        findings,
    })
}

/// The tooth in a pose: as the fitted sensors would read it, or from typed angles where sensors are missing.
pub(crate) fn fix_pose(
    model: &ToothModel,
    ask: &PoseAsk,
    set: &SetPose,
) -> Result<PoseFix, Faults> {
    let typed = Readings {
        house_rad: None,
        sensors_rad: vec![None; model.machine().sheet().sensors.len()],
        heading_rad: None,
        antennas_m: vec![None; model.machine().sheet().antennas.len()],
    };
    let (read, why_not) = match model.readings_at(&set.joints, &set.lean) {
        Ok(readings) => (Some(readings), None),
        Err(faults) => (None, Some(faults)),
    };
    let with_site = |readings: Readings<f64>| {
        let (readings, by_hand) = on_site(model, ask, set, readings);
        let position_sd_m = ask.position_sd_m.unwrap_or_default().axes();
        let heading_sd_rad = ask.heading_sd_deg.map(f64::to_radians);
        (
            model.with_sheet_sds(&readings, heading_sd_rad, position_sd_m),
            by_hand,
        )
    };
    let why = match read.map(&with_site) {
        Some((readings, heading_typed)) => match model.fix(&readings) {
            Ok(fix) => {
                let angle_sds = joint_sds::joint_sds_rad(model, &readings);
                return Ok(PoseFix {
                    fix,
                    basis: Basis::Sensors,
                    heading_typed,
                    angle_sds,
                });
            }
            Err(faults) => first_words(&faults),
        },
        None => why_not.as_ref().map_or_else(String::new, first_words),
    };
    let (readings, heading_typed) = with_site(typed);
    let fix = model.fix_typed(set.joints, set.lean, &readings)?;
    Ok(PoseFix {
        fix,
        basis: Basis::Lengths(why),
        heading_typed,
        angle_sds: AngleSds::default(),
    })
}

/// The antennas where they would be on the typed stand; the heading only where no pair gives it.
fn on_site(
    model: &ToothModel,
    ask: &PoseAsk,
    set: &SetPose,
    mut readings: Readings<f64>,
) -> (Readings<f64>, bool) {
    let (Mode::ThreeD, Some(site_from_house)) = (ask.mode, set.site_from_house()) else {
        return (readings, false);
    };
    let levers = &model.geometry().levers_m;
    readings.antennas_m = levers
        .iter()
        .map(|[x, y, z]| {
            let at =
                site_from_house * holdline_geom::frame::Point::metres(x.value, y.value, z.value);
            Some([at.x(), at.y(), at.z()])
        })
        .collect();
    let by_hand = levers.len() < 2;
    readings.heading_rad = by_hand.then_some(set.heading_rad);
    (readings, by_hand)
}

fn first_words(faults: &Faults) -> String {
    faults
        .0
        .iter()
        .map(|fault| format!("{}: {}", fault.at, fault.got))
        .collect::<Vec<_>>()
        .join("; ")
}

fn joint_view(machine: &Machine, joint: Joint, q: &Joints) -> JointView {
    let angle_rad = q.get(joint);
    let range = machine
        .range(joint)
        .map(|range| range.nominal_rad.map(f64::to_degrees));
    let beyond = machine.beyond_range(joint, angle_rad);
    let deg = angle_rad.to_degrees();
    let limit_words = match (&beyond, range) {
        (Some(fault), _) => Some(fault.got.clone()),
        (None, Some([min, max])) => at_the_end(machine, joint, deg, [min, max]),
        (None, None) => {
            Some("range not known: the sheet gives neither cylinder nor range".to_owned())
        }
    };
    JointView {
        name: joint.word().to_owned(),
        label: label(joint).to_owned(),
        deg,
        min_deg: range.map(|[min, _]| min),
        max_deg: range.map(|[_, max]| max),
        outside: beyond.is_some(),
        limit_words: limit_words.filter(|_| range.is_some() || joint != Joint::Swing),
    }
}

/// Said within this of the end of a range, degrees.
const NEAR_END_DEG: f64 = 0.05;

fn at_the_end(machine: &Machine, joint: Joint, deg: f64, [min, max]: [f64; 2]) -> Option<String> {
    let lower = (deg - min).abs() <= NEAR_END_DEG;
    if !lower && NEAR_END_DEG < (max - deg).abs() {
        return None;
    }
    let has_cylinder = machine
        .range(joint)
        .is_some_and(|range| range.cylinder_idx.is_some());
    if !has_cylinder {
        return Some(format!(
            "at the end of its range, {:.1}°",
            if lower { min } else { max }
        ));
    }
    let idx = machine.range(joint).and_then(|range| range.cylinder_idx)?;
    let cylinder = &machine.sheet().cylinders[idx];
    let length_m = *machine
        .cylinder_lengths_m(&Joints::zero().with(joint, deg.to_radians()))
        .ok()?
        .get(idx)?;
    let out =
        (cylinder.extended.value - length_m).abs() < (length_m - cylinder.retracted.value).abs();
    let end = if out { "fully out" } else { "fully in" };
    Some(format!(
        "{} cylinder {end} at {:.1}°",
        joint.word(),
        if lower { min } else { max }
    ))
}

/// A joint's name for people.
pub fn label(joint: Joint) -> &'static str {
    match joint {
        Joint::Swing => "Swing",
        Joint::Post => "Boom swing post",
        Joint::Boom => "Boom",
        Joint::BoomUpper => "Upper boom",
        Joint::Offset => "Offset",
        Joint::Stick => "Stick",
        Joint::Bucket => "Bucket",
        Joint::Tilt => "Tilt",
        Joint::Rotation => "Rotation",
    }
}
