//! The sheet of a machine as measured up.

use holdline::machine::Machine;
use holdline_geom::fault::Faults;
use holdline_geom::measured::Measured;
use holdline_sheet::figure::{DEGREES, Kind};
use holdline_sheet::page::Page;
use holdline_sheet::sheets::{MachineSheet, MeasuredRow, render_machine};

use super::block::Standing;
use super::{model, pose_of_shot, words};
use crate::drawings;
use crate::machine_view::machine_view;
use crate::pose::{PoseAsk, PoseView};
use crate::units::Units;
use crate::views::{FigureView, ToolAsk};

const CAUTION: &str = "Every figure of the tooth rests on these. A pin that was not measured again after a repair is not known.";

const CAUTION_POSE: &str = "A drawn pose plans; it moves nothing and guards nothing.";

/// Names of the front's figures, and between which points they are taken.
const NAMES: &[(&str, &str, &str)] = &[
    ("swing_post.at.x", "Swing post, forward", ""),
    ("swing_post.at.y", "Swing post, left", ""),
    ("swing_post.at.z", "Swing post, up", ""),
    ("boom.foot.x", "Boom foot pin, forward", "axis\u{2013}A"),
    ("boom.foot.y", "Boom foot pin, left", "axis\u{2013}A"),
    ("boom.foot.z", "Boom foot pin, up", "ground\u{2013}A"),
    ("boom.length", "Boom", "A\u{2013}B"),
    ("boom.lower", "Lower boom", "A\u{2013}M"),
    ("boom.upper", "Upper boom", "M\u{2013}B"),
    ("boom.link", "Offset links", ""),
    (
        "swing_post.foot.x",
        "Boom foot pin, forward",
        "post\u{2013}A",
    ),
    ("swing_post.foot.y", "Boom foot pin, left", "post\u{2013}A"),
    ("swing_post.foot.z", "Boom foot pin, up", "post\u{2013}A"),
    ("tilt.axis_at.x", "Tilt axis, along the pins", ""),
    ("tilt.axis_at.y", "Tilt axis, left", ""),
    ("tilt.axis_at.z", "Tilt axis, across the pins", ""),
    ("tilt.axis_angle", "Tilt axis, angle", ""),
    (
        "tilt.rotation.axis_at.x",
        "Rotation axis, along the pins",
        "",
    ),
    ("tilt.rotation.axis_at.y", "Rotation axis, left", ""),
    (
        "tilt.rotation.axis_at.z",
        "Rotation axis, across the pins",
        "",
    ),
    ("tilt.rotation.axis_angle", "Rotation axis, angle", ""),
    ("tilt.front_pin.x", "Tilt, bucket pin along", ""),
    ("tilt.front_pin.y", "Tilt, bucket pin left", ""),
    ("tilt.front_pin.z", "Tilt, bucket pin across", ""),
    ("tilt.bucket_rotation", "Tilt, turn of the bucket", ""),
    ("stick.length", "Stick", "B\u{2013}C"),
    (
        "linkage.idler_pivot.x",
        "Idler pivot, along the stick",
        "B\u{2013}F",
    ),
    (
        "linkage.idler_pivot.z",
        "Idler pivot, across the stick",
        "B\u{2013}F",
    ),
    ("linkage.idler", "Idler", "F\u{2013}E"),
    ("linkage.link", "Bucket link", "E\u{2013}D"),
    ("linkage.ear", "Ear", "C\u{2013}D"),
    ("coupler.front_pin.x", "Coupler, front pin along", "C"),
    ("coupler.front_pin.z", "Coupler, front pin across", "C"),
    ("coupler.rotation", "Coupler, turn", ""),
    (
        "tooth.x",
        "Tooth point, along the pins",
        "front pin\u{2013}T",
    ),
    ("tooth.y", "Tooth point, left", "front pin\u{2013}T"),
    (
        "tooth.z",
        "Tooth point, across the pins",
        "front pin\u{2013}T",
    ),
];

/// The pages of a machine as measured up.
pub(super) fn pages(
    standing: &Standing,
    machine: &Machine,
    tool: &ToolAsk,
    units: Units,
) -> Result<Vec<Page>, Faults> {
    let model = model(machine, tool)?;
    let sheet = machine.sheet();
    let seen = machine_view(machine);
    let mut findings: Vec<String> = Vec::new();
    if !seen.figures_without_uncertainty.is_empty() {
        let list = seen.figures_without_uncertainty.join(", ");
        findings.push(format!(
            "No uncertainty stated for {list}: the tooth's uncertainty is then not known."
        ));
    }
    if !seen.joints_without_sensor.is_empty() {
        let list = seen.joints_without_sensor.join(", ");
        findings.push(format!(
            "No sensor gives {list}: readings alone do not place the tooth."
        ));
    }
    let by = &sheet.measured;
    let measured_by: Vec<&str> = [&by.who, &by.on, &by.with]
        .into_iter()
        .map(String::as_str)
        .filter(|t| !t.is_empty())
        .collect();
    let machine_sheet = MachineSheet {
        block: standing.block("Machine as measured up", machine, tool, units, CAUTION),
        measured_by: measured_by.join(", "),
        machine: drawings::for_paper(&model, &pose_of_shot(tool, None, units))?,
        rows: rows(machine, tool, units)?,
        findings,
    };
    Ok(render_machine(&machine_sheet, &words()))
}

/// The machine in a pose, with the tooth's figures beside the lengths they rest on.
pub(super) fn pose_pages(
    standing: &Standing,
    machine: &Machine,
    ask: &PoseAsk,
    view: &PoseView,
) -> Result<Vec<Page>, Faults> {
    let model = model(machine, &ask.tool)?;
    let figure = |f: &FigureView| {
        format!(
            "{}, {}: {} {}",
            f.group, f.label, f.text, f.uncertainty_text
        )
    };
    let mut findings: Vec<String> = view.figures.iter().map(figure).collect();
    findings.extend(
        view.findings
            .iter()
            .map(|f| format!("{}: {}", f.place, f.text)),
    );
    let sheet = MachineSheet {
        block: standing.block(
            "Machine in a pose",
            machine,
            &ask.tool,
            ask.units,
            CAUTION_POSE,
        ),
        measured_by: String::new(),
        machine: drawings::for_paper(&model, ask)?,
        rows: rows(machine, &ask.tool, ask.units)?,
        findings,
    };
    Ok(render_machine(&sheet, &words()))
}

fn rows(machine: &Machine, tool: &ToolAsk, units: Units) -> Result<Vec<MeasuredRow>, Faults> {
    let row = |name: &str, between: &str, value: Measured, kind: Kind| MeasuredRow {
        name: name.to_owned(),
        between: between.to_owned(),
        value,
        kind,
        remark: String::new(),
    };
    let length = units.length();
    let mut rows = Vec::new();
    machine
        .front(&tool.choice())?
        .map(&mut |path, value: &Measured| {
            let angle = path.ends_with("rotation") || path.ends_with("angle");
            let kind = if angle { DEGREES } else { length };
            let named = NAMES.iter().find(|(p, _, _)| *p == path);
            let (name, between) = named.map_or((path, ""), |(_, name, between)| (*name, *between));
            rows.push(row(name, between, *value, kind));
        });
    let sheet = machine.sheet();
    rows.push(row(
        "Tail radius",
        "axis\u{2013}tail",
        sheet.house.tail_radius,
        length,
    ));
    for cylinder in &sheet.cylinders {
        let word = cylinder.moves.word();
        rows.push(row(
            &format!("{word} cylinder, fully in"),
            "pin\u{2013}pin",
            cylinder.retracted,
            length,
        ));
        rows.push(row(
            &format!("{word} cylinder, fully out"),
            "pin\u{2013}pin",
            cylinder.extended,
            length,
        ));
    }
    for sensor in &sheet.sensors {
        rows.push(row(
            &format!("Sensor {}, offset", sensor.id),
            "",
            sensor.offset,
            DEGREES,
        ));
        if let Some(roll) = sensor.roll_offset {
            rows.push(row(
                &format!("Sensor {}, roll offset", sensor.id),
                "",
                roll,
                DEGREES,
            ));
        }
    }
    for antenna in &sheet.antennas {
        let lever = &antenna.lever;
        for (word, value) in [("forward", lever.x), ("left", lever.y), ("up", lever.z)] {
            rows.push(row(
                &format!("Antenna {}, {word}", antenna.id),
                "axis\u{2013}antenna",
                value,
                length,
            ));
        }
    }
    Ok(rows)
}
