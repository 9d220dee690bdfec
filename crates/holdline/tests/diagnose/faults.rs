//! Faults drawn for a machine and its shots, each with the name that the diagnosis should give it.

use std::f64::consts::TAU;

use crate::world::{Fault, Plan};
use holdline::calibrate::diagnose::Diagnosis;
use holdline::machine::figures::FigureUnit;
use holdline::machine::front::ToolChoice;
use holdline_geom::draws::Draws;

/// A fault of a size, 3 to 6 times what these shots see.
pub fn sized(draws: &mut Draws, healthy: &Diagnosis) -> (Fault, String) {
    let sized: Vec<(&str, Vec<f64>)> = healthy
        .suspects
        .iter()
        .flat_map(|s| &s.explanations)
        .filter(|e| !e.estimates.is_empty())
        .map(|e| {
            (
                e.id.as_str(),
                e.estimates.iter().map(|e| e.detectable).collect(),
            )
        })
        .collect();
    let (id, mdb) = &sized[draws.below(sized.len())];
    let sign = if draws.below(2) == 0 { 1.0 } else { -1.0 };
    let size = mdb[0] * draws.between(3.0, 6.0) * sign;
    let fault = match *id {
        "heading" => Fault::Heading(size),
        "lever.forward" => Fault::Lever(0, size),
        "lever.left" => Fault::Lever(1, size),
        "lever.up" => Fault::Lever(2, size),
        "tooth.along" => Fault::Tooth(0, size),
        "tooth.across" => Fault::Tooth(1, size),
        "tooth.sideways" => Fault::Tooth(2, size),
        "shift.up" => Fault::Shift([0.0, 0.0, size]),
        "shift.plan" => {
            // Both axes see alike: a shift of the size in any direction.
            let azimuth = draws.between(0.0, TAU);
            let long = size.abs() * mdb[1].max(mdb[0]) / mdb[0];
            Fault::Shift([long * azimuth.sin(), long * azimuth.cos(), 0.0])
        }
        "late" => Fault::Late(size),
        "play" => Fault::Play(size),
        id if id.starts_with("sensor[") => Fault::Drift(id.to_owned(), size),
        id if id.starts_with("shot[") => {
            let idx: usize = id[5..id.len() - 1].parse().expect("a number");
            let way = [0, 1, 2].map(|_| draws.normal());
            let long = way.iter().map(|w| w * w).sum::<f64>().sqrt();
            let most = mdb.iter().copied().fold(0.0, f64::max);
            Fault::OneShot(
                idx - 1,
                way.map(|w| w / long * most * (size / mdb[0]).abs()),
            )
        }
        path => Fault::Figure(path.to_owned(), size),
    };
    (fault, (*id).to_owned())
}

/// A fault that is or is not, with the suspect's name.
pub fn given(draws: &mut Draws, plan: &Plan) -> Option<(Fault, String)> {
    let choice = &plan.rig.choice;
    let other_bucket = if choice.bucket == "T75" {
        "G180"
    } else {
        "T75"
    };
    let tooth = ["left", "centre", "right"]
        .into_iter()
        .filter(|t| *t != choice.tooth)
        .nth(draws.below(2))?;
    Some(match draws.below(7) {
        0 => (
            Fault::Tool(ToolChoice {
                bucket: other_bucket.to_owned(),
                ..choice.clone()
            }),
            format!("bucket[{other_bucket}]"),
        ),
        1 => {
            let coupler = choice.coupler.is_none().then(|| "QC-demo".to_owned());
            let id = format!("coupler[{}]", coupler.as_deref().unwrap_or("none"));
            (
                Fault::Tool(ToolChoice {
                    coupler,
                    ..choice.clone()
                }),
                id,
            )
        }
        2 => (
            Fault::Tool(ToolChoice {
                tooth: tooth.to_owned(),
                ..choice.clone()
            }),
            format!("tooth[{tooth}]"),
        ),
        3 => (Fault::Branch, "linkage.branch".to_owned()),
        4 => (Fault::Swapped, "survey.swapped".to_owned()),
        5 => (Fault::Feet([0.3048; 3]), "survey.feet".to_owned()),
        _ => {
            // The digits after the point change places, or the first two do.
            let all: Vec<(String, f64)> = plan
                .rig
                .sheet
                .figures()
                .iter()
                .filter(|f| matches!(f.unit, FigureUnit::Metre))
                .map(|f| (f.path.clone(), f.measured.value))
                .collect();
            let (path, value) = all[draws.below(all.len())].clone();
            let text = format!("{:.3}", value.abs());
            let mut chars: Vec<char> = text.chars().collect();
            let n = chars.len();
            if draws.below(2) == 0 {
                chars.swap(n - 2, n - 3);
            } else {
                chars.swap(n - 1, n - 2);
            }
            let typed: f64 = chars.iter().collect::<String>().parse().ok()?;
            let typed = typed * value.signum();
            ((typed - value).abs() > 1e-9)
                .then_some((Fault::Slip(path.clone(), typed), format!("{path}={value}")))?
        }
    })
}
