//! A fit: from documents to the core, and from what it found to the record.

use holdline::calibrate::calibration::Calibration;
use holdline::calibrate::fit::{
    Belief, Fit, FitAsk, FittedPose, FittedReading, GrossErrors, ReadingState, Role, ToothSure,
    fit as by_core,
};
use holdline::calibrate::observations::{Observations, ObservedTool};
use holdline::machine::Machine;
use holdline::machine::figures::FigureUnit;
use holdline::tooth::model::ToothModel;
use holdline_geom::fault::{Fault, Faults};

use super::alone::{alone, told};
use super::ask::CalibrateAsk;
use super::body::{
    CountsIn, FitBody, FittedBody, GlobalBody, MeasuredPoseBody, Part, ResidualBody, State,
    ToothSureBody,
};
use super::job::ReadObservations;
use crate::verify::{Answer, FindingBody, joints_deg};

/// Fits, and gives the calibration that comes of it.
pub(super) fn fit(
    machine: &Machine,
    ask: &CalibrateAsk,
    read: &[ReadObservations],
) -> Result<(FitBody, Calibration), Faults> {
    let observations = together(ask, read)?;
    let found = by_core(machine, &observations, &core_ask(ask))
        .map_err(|faults| placed(read, told(machine, &observations, faults)))?;
    let calibration = found.calibration(
        &ask.tool.machine,
        &ask.who,
        ask.on.as_deref().unwrap_or_default(),
        &ask.with,
    );
    let model = ToothModel::new(machine, &found.choice)?;
    let mut body = body_of(&model, &found);
    let (rows, findings) = alone(machine, &observations, &found);
    body.alone = rows;
    body.findings.extend(findings);
    Ok((body, calibration))
}

/// The ask as the core takes it.
pub(super) fn core_ask(ask: &CalibrateAsk) -> FitAsk {
    FitAsk {
        solve: ask.solve.clone(),
        hold: ask.hold.clone(),
        tooth: Some(ask.tool.tooth.clone()).filter(|tooth| !tooth.is_empty()),
        heading_sd_rad: ask.heading_sd_deg.map(f64::to_radians),
        antenna_sd_m: ask.position_sd_m.unwrap_or_default().axes(),
        gross_errors: if ask.keep_all {
            GrossErrors::KeepAll
        } else {
            GrossErrors::TakeOut
        },
        ..FitAsk::default()
    }
}

/// All documents as one, for the tool that was chosen.
pub(super) fn together(
    ask: &CalibrateAsk,
    read: &[ReadObservations],
) -> Result<Observations, Faults> {
    let choice = ask.tool.choice();
    let tool = ObservedTool {
        coupler: choice.coupler,
        tilt: choice.tilt,
        bucket: choice.bucket,
    };
    let mut faults = Faults::none();
    let mut all = Observations {
        tool: tool.clone(),
        ..Observations::default()
    };
    for one in read {
        let said = &one.observations;
        if !said.tool.bucket.is_empty() && said.tool != tool {
            faults.push(Fault::new(
                "V045",
                &one.name,
                format!("measured with {}", in_words(&said.tool)),
                format!("measured with {}, as chosen", in_words(&tool)),
                "choose the tool that hung there, or the file of this tool",
            ));
        }
        if !said.machine.is_empty() {
            all.machine.clone_from(&said.machine);
        }
        for row in &said.rows {
            if all.rows.iter().any(|there| there.name == row.name) {
                faults.push(Fault::new(
                    "V046",
                    format!("observation[{}]", row.name),
                    format!("the name {:?} in two documents", row.name),
                    "every observation with a name of its own",
                    "rename the rows of one of the files; the report names each by it",
                ));
            }
            all.rows.push(row.clone());
        }
    }
    faults.or(all)
}

fn in_words(tool: &ObservedTool) -> String {
    let hung = [&tool.tilt, &tool.coupler].into_iter().flatten();
    hung.fold(tool.bucket.clone(), |words, hung| {
        format!("{words} on {hung}")
    })
}

/// Each fault of the core at the line of the document that it speaks of.
pub(super) fn placed(read: &[ReadObservations], faults: Faults) -> Faults {
    let of = |fault: &Fault| {
        let inside = fault.at.strip_prefix("observation[")?;
        let has = |one: &&ReadObservations| {
            let mut rows = one.observations.rows.iter();
            rows.any(|row| inside.starts_with(&format!("{}]", row.name)))
        };
        read.iter().find(has)
    };
    Faults(
        faults
            .0
            .into_iter()
            .flat_map(|fault| match of(&fault) {
                Some(one) => one.placed(fault.into()).0,
                None => vec![fault],
            })
            .collect(),
    )
}

fn count(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}

pub(super) fn unit(unit: FigureUnit) -> CountsIn {
    match unit {
        FigureUnit::Metre => CountsIn::M,
        FigureUnit::Radian => CountsIn::Rad,
    }
}

fn body_of(model: &ToothModel, found: &Fit) -> FitBody {
    let (believed, because) = match &found.belief {
        Belief::Believed => (Answer::Pass, None),
        Belief::NotBelieved(why) if found.global.is_none() => {
            (Answer::NotShown, Some(why.join("; ")))
        }
        Belief::NotBelieved(why) => (Answer::Fail, Some(why.join("; "))),
    };
    let with_sd: Vec<usize> = (0..found.figures.len())
        .filter(|idx| found.figures[*idx].sd.is_some())
        .collect();
    let mut correlations = Vec::new();
    for (place, row) in with_sd.iter().enumerate() {
        for column in &with_sd[..place] {
            correlations.push(found.correlation(*row, *column).unwrap_or(0.0));
        }
    }
    let open = |all: &[holdline::calibrate::fit::Open]| -> Vec<String> {
        all.iter().map(|open| open.words.clone()).collect()
    };
    let findings: Vec<FindingBody> = found
        .findings
        .iter()
        .map(|what| finding("V047", "fit", what.clone()))
        .collect();
    FitBody {
        believed,
        because,
        global: found.global.map(|global| GlobalBody {
            chi2: global.chi2,
            dof: count(global.dof),
            bounds: global.within,
        }),
        figures: found
            .figures
            .iter()
            .map(|figure| FittedBody {
                path: figure.path.clone(),
                unit: unit(figure.unit),
                before: figure.before.value,
                before_sd: figure.before.sd,
                value: figure.value,
                sd: figure.sd,
                part: match figure.role {
                    Role::Sought => Part::Sought,
                    Role::Carried => Part::Carried,
                    Role::Held => Part::Held,
                },
            })
            .collect(),
        correlated_rows: with_sd.iter().map(|idx| count(*idx)).collect(),
        correlations,
        residuals: found
            .readings
            .iter()
            .enumerate()
            .map(|(idx, reading)| residual(found, idx, reading))
            .collect(),
        limit: found.limit,
        rejected: found
            .rejected
            .iter()
            .map(|rejection| {
                let name = found
                    .readings
                    .get(rejection.reading_idx)
                    .map_or_else(String::new, label);
                // The reason begins with the name; it stands before it already.
                let why = rejection.why.strip_prefix(&format!("{name}: "));
                finding("V049", &name, why.unwrap_or(&rejection.why).to_owned())
            })
            .collect(),
        inseparable: found.inseparable.clone(),
        not_determined: open(&found.not_determined),
        weak: open(&found.weak),
        alone: Vec::new(),
        tooth: found.tooth.iter().map(|t| sure(model, t)).collect(),
        poses: found.poses.iter().map(pose).collect(),
        next: advice(found),
        findings,
        calibration: String::new(),
    }
}

pub(super) fn finding(code: &str, at: &str, what: String) -> FindingBody {
    FindingBody {
        code: code.to_owned(),
        at: at.to_owned(),
        what,
    }
}

fn label(reading: &FittedReading) -> String {
    match reading.part.as_str() {
        "" => reading.name.clone(),
        part => format!("{} {part}", reading.name),
    }
}

fn residual(found: &Fit, idx: usize, reading: &FittedReading) -> ResidualBody {
    let mut rejected = found.rejected.iter();
    let why = rejected.find(|rejection| rejection.reading_idx == idx);
    ResidualBody {
        name: reading.name.clone(),
        part: reading.part.clone(),
        kind: reading.kind.clone(),
        pose: reading.pose.clone(),
        unit: unit(reading.unit),
        off: Some(reading.off).filter(|off| off.is_finite()),
        in_sd: reading.in_sd,
        redundancy: Some(reading.redundancy).filter(|r| r.is_finite()),
        detectable: reading.detectable,
        at_tooth_m: reading.at_tooth_m,
        state: match reading.state {
            ReadingState::Used => State::Used,
            ReadingState::Unchecked => State::Unchecked,
            ReadingState::Rejected => State::Rejected,
        },
        why: why.map_or_else(String::new, |rejection| rejection.why.clone()),
        twins: reading.twins.clone(),
    }
}

fn sure(model: &ToothModel, sure: &ToothSure) -> ToothSureBody {
    ToothSureBody {
        name: sure.name.clone(),
        joints_deg: joints_deg(model, &sure.joints),
        at_m: sure.at_m,
        before_sd_m: sure.sd_before_m,
        sd_m: sure.sd_m,
        figures_sd_m: sure.sd_of_figures_m,
    }
}

fn pose(pose: &FittedPose) -> MeasuredPoseBody {
    MeasuredPoseBody {
        name: pose.name.clone(),
        stand: pose.stand.clone(),
        chain_m: pose.chain_m.to_vec(),
        n_used_rejected: [count(pose.n_used), count(pose.n_rejected)],
    }
}

/// What to do next, the most pressing first.
fn advice(found: &Fit) -> Vec<String> {
    let mut next = Vec::new();
    if matches!(found.belief, Belief::NotBelieved(_)) {
        next.push("Do not use this calibration until the reasons above are settled.".to_owned());
    }
    if !found.rejected.is_empty() {
        next.push(
            "Look at what was rejected: read the field book again, or measure it again.".to_owned(),
        );
    }
    if !found.not_determined.is_empty() {
        next.push(
            "Measure what was not determined: `holdline calibrate next` says which poses."
                .to_owned(),
        );
    }
    next.push("Prove the tooth with check shots that were not used here.".to_owned());
    next
}
