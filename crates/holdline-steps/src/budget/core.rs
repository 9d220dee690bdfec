//! From what is asked to the core, and from what it found to the record.

use holdline::calibrate::budget::{
    Budget, BudgetAsk as CoreAsk, BudgetPose, Cell, CellBudget, Coverage, Deflection, DrawsAsk,
    EnvelopeMap, GrowthAsk, HeadingFrom, HeightFrom, Judged, MapAsk, Mode as CoreMode, MonteCarlo,
    Motion, PinPlay, PlanMapAsk, PoseBudget, Satellites, Share, SourceUnit, Work as CoreWork,
    Working, at_pose, growth, judge_map, map, monte_carlo, normal_of_face, plan_map, verdict,
};
use holdline::machine::Machine;
use holdline::machine::front::{Boom, ToolChoice};
use holdline::machine::joints::{ALL_JOINTS, Joints};
use holdline::machine::pose::front_pose;
use holdline::tooth::model::ToothModel;
use holdline_geom::fault::{Fault, Faults};
use holdline_sheet::figure::{DEGREES, MILLIMETRES, plain};

use super::Work;
use super::ask::{BudgetAsk, DrawsSettings, MapGrid};
use super::body::{
    BudgetBody, DirectionBody, GridBody, GrowthBody, MapBody, MonteCarloBody, PoseBudgetBody,
    ShareBody,
};
use super::judged::{Judgement, Task, verdict_body};
use crate::calibrate::figure_label;
use crate::pose::Mode;
use crate::units::Units;
use crate::verify::joints_deg;

/// A budget in a pose, over the envelope where a grid is asked for, over moves where there are any.
pub(super) fn budget(
    machine: &Machine,
    ask: &BudgetAsk,
    work: &Work<'_>,
) -> Result<BudgetBody, Faults> {
    let model = ToothModel::new(machine, &ask.tool.choice())?;
    let front = model.geometry().front.values();
    let set = ask.pose(Units::Metric).set(machine, &front)?;
    let pose = BudgetPose {
        joints: set.joints,
        lean: set.lean,
        heading_rad: (ask.mode == Mode::ThreeD).then_some(set.heading_rad),
    };
    check_strokes(machine, &set.joints)?;
    let core = Budget::new(&model, &core_ask(&model, ask, ask.mode))?;
    let found = at_pose(&core, &pose)?;
    let drawn = match ask.draws {
        None => None,
        Some(draws) => Some(monte_carlo(&core, &pose, &draws_ask(draws))?),
    };
    let tasks = Task::of(ask);
    let shown = tasks.first().map_or(Judged::Up, |task| task.judged);
    let mapped = match ask.grid {
        None => None,
        Some(_) => Some(maps(&core, &model, ask, &pose, shown, work)?),
    };
    let teeth = teeth(
        machine,
        ask,
        &model,
        (&found, mapped.as_ref().map(|(map, _)| map)),
    )?;
    let looked = teeth.iter().map(|tooth| tooth.look(ask, &pose, work));
    let looked = looked.collect::<Result<Vec<_>, Faults>>()?;
    let judgements: Vec<Judgement> = tasks
        .into_iter()
        .filter_map(|task| {
            let each = looked
                .iter()
                .map(|looked| looked.judged(task, &working(ask)));
            let worst = Judgement::worst(each.collect())?;
            Some(match &drawn {
                Some(drawn) => worst.parted(drawn),
                None => worst,
            })
        })
        .collect();
    Ok(BudgetBody {
        verdict: verdict_body(&judgements),
        growth: grown(&model, ask, &pose)?,
        pose: pose_body(&model, ask, &pose, &found, shown, drawn.as_ref()),
        map: mapped.map(|(_, body)| body),
        findings: Vec::new(),
    })
}

/// A pose that the machine cannot take is judged for nothing.
fn check_strokes(machine: &Machine, joints: &Joints) -> Result<(), Faults> {
    let mut faults = Faults::none();
    for joint in ALL_JOINTS {
        let Some(range) = machine.range(joint) else {
            continue;
        };
        let [min, max] = range.outer_rad;
        let q = joints.get(joint);
        if !(min <= q && q <= max) {
            let degrees = |rad: f64| format!("{:.1}°", rad.to_degrees());
            faults.push(Fault::new(
                "V050",
                format!("joints_deg.{}", joint.word()),
                degrees(q),
                format!("{} to {}, within its stroke", degrees(min), degrees(max)),
                "name a pose that the machine can take",
            ));
        }
    }
    faults.or(())
}

/// A tooth point of the bucket to be judged.
struct ToothPoint<'a> {
    name: String,
    model: ToothModel,
    /// What was found already.
    known: Option<(&'a PoseBudget, Option<&'a EnvelopeMap>)>,
}

/// What was found of one tooth point.
struct LookedAt {
    name: String,
    found: PoseBudget,
    map: Option<EnvelopeMap>,
}

/// All tooth points of the bucket, the one steered by first.
fn teeth<'a>(
    machine: &Machine,
    ask: &BudgetAsk,
    model: &ToothModel,
    known: (&'a PoseBudget, Option<&'a EnvelopeMap>),
) -> Result<Vec<ToothPoint<'a>>, Faults> {
    let choice = ask.tool.choice();
    let mut all = vec![ToothPoint {
        name: model.choice().tooth.clone(),
        model: model.clone(),
        known: Some(known),
    }];
    for tooth in &machine.bucket(&choice.bucket)?.teeth {
        if tooth.name == model.choice().tooth {
            continue;
        }
        let choice = ToolChoice {
            tooth: tooth.name.clone(),
            ..choice.clone()
        };
        all.push(ToothPoint {
            name: tooth.name.clone(),
            model: ToothModel::new(machine, &choice)?,
            known: None,
        });
    }
    Ok(all)
}

impl ToothPoint<'_> {
    fn look(
        &self,
        ask: &BudgetAsk,
        pose: &BudgetPose,
        work: &Work<'_>,
    ) -> Result<LookedAt, Faults> {
        let name = self.name.clone();
        if let Some((found, map)) = self.known {
            return Ok(LookedAt {
                name,
                found: found.clone(),
                map: map.cloned(),
            });
        }
        let core = Budget::new(&self.model, &core_ask(&self.model, ask, ask.mode))?;
        let map = match ask.grid {
            None => None,
            Some(grid) => {
                let asked = section_ask(ask, grid, pose);
                let looked = map(&core, &asked, &core_work(work))?;
                if work.cancel.load(std::sync::atomic::Ordering::Relaxed) {
                    return Err(stopped().into());
                }
                Some(looked)
            }
        };
        Ok(LookedAt {
            name,
            found: at_pose(&core, pose)?,
            map,
        })
    }
}

impl LookedAt {
    fn judged(&self, task: Task, working: &Working) -> Judgement {
        match &self.map {
            Some(map) => Judgement::over(
                task,
                &self.name,
                judge_map(map, working, task.judged, &task.tolerance),
            ),
            None => Judgement::at_pose(
                task,
                &self.name,
                verdict(&self.found, task.judged, &task.tolerance),
            ),
        }
    }
}

fn core_work<'a>(work: &Work<'a>) -> CoreWork<'a> {
    CoreWork {
        progress: work.progress,
        cancel: work.cancel,
    }
}

fn section_ask(ask: &BudgetAsk, grid: MapGrid, pose: &BudgetPose) -> MapAsk {
    MapAsk {
        lean: pose.lean,
        keep: pose.joints,
        bucket_rad: ask.work_bucket_deg.map(|span| span.map(f64::to_radians)),
        ..MapAsk::of_all(
            [grid.n_forward as usize, grid.n_up as usize],
            pose.heading_rad,
        )
    }
}

fn working(ask: &BudgetAsk) -> Working {
    Working {
        radius_m: ask.work_reach_m,
        height_m: ask.work_height_m,
    }
}

fn draws_ask(draws: DrawsSettings) -> DrawsAsk {
    DrawsAsk {
        n: draws.n_draws as usize,
        seed: u64::from(draws.seed),
    }
}

/// The ask as the core takes it. Two antennas without a stated heading give the heading themselves.
fn core_ask(model: &ToothModel, ask: &BudgetAsk, mode: Mode) -> CoreAsk {
    CoreAsk {
        mode: match mode {
            Mode::TwoD => CoreMode::TwoD(HeightFrom::Bench {
                sd_m: ask.bench_sd_m,
                touch_sd_m: ask.touch_sd_m,
                mark_sd_m: ask.mark_sd_m,
                n_moves: ask.rebenches,
            }),
            Mode::ThreeD => CoreMode::ThreeD(satellites(model, ask)),
        },
        pin_play: PinPlay {
            all_m: ask.pin_play_m,
            each_m: Vec::new(),
        },
        deflection: ask.deflection_m.map(|sd_m| Deflection {
            sd_m,
            at_reach_m: full_reach_m(model),
        }),
        motion: ask.speed_m_s.map(|speed_m_s| Motion::Tooth { speed_m_s }),
        coverage: Coverage::TwoSided,
        normal: ask
            .face
            .map(|face| normal_of_face(face.slope_deg.to_radians(), face.azimuth_deg.to_radians()))
            .map(|normal| match mode {
                Mode::ThreeD => normal,
                // In 2D the azimuth counts clockwise from the boom's direction: forward for north, right for east.
                Mode::TwoD => [normal[1], -normal[0], normal[2]],
            }),
    }
}

fn satellites(model: &ToothModel, ask: &BudgetAsk) -> Satellites {
    let position = ask.position_sd_m.unwrap_or_default();
    let localization = ask.localization_sd_m.unwrap_or_default();
    let pair = 2 <= model.machine().sheet().antennas.len() && ask.heading_sd_deg.is_none();
    Satellites {
        plan_sd_m: position.h,
        height_sd_m: position.v,
        heading: if pair {
            // Two antennas that err apart from each other: the line between them errs by √2 of one.
            HeadingFrom::Pair {
                line_sd_m: ask
                    .pair_sd_m
                    .or(position.h.map(|sd| sd * std::f64::consts::SQRT_2)),
            }
        } else {
            HeadingFrom::Read {
                sd_rad: ask.heading_sd_deg.map(f64::to_radians),
            }
        },
        localization_sd_m: localization.axes(),
        latency_s: ask.latency_s,
    }
}

/// The reach of the front stretched out, from the swing axis.
fn full_reach_m(model: &ToothModel) -> f64 {
    let front = model.geometry().front.values();
    let boom_m = match front.boom {
        Boom::Mono { length_m } => length_m,
        Boom::TwoPiece { lower_m, upper_m } => lower_m + upper_m,
        Boom::Offset {
            lower_m,
            link_m,
            upper_m,
        } => lower_m + link_m + upper_m,
    };
    let pose = front_pose(&front, &Joints::zero());
    let foot = pose.house_from_boom.origin();
    let from_b = (pose.house_from_ear.origin() - pose.house_from_stick.origin())
        .vector()
        .norm();
    let tooth = (pose.tooth_house - pose.house_from_ear.origin())
        .vector()
        .norm();
    foot.x().abs() + boom_m + from_b + tooth
}

fn mm(value_m: f64) -> String {
    plain(value_m, &MILLIMETRES, 1)
}

fn pose_body(
    model: &ToothModel,
    ask: &BudgetAsk,
    pose: &BudgetPose,
    found: &PoseBudget,
    shown: Judged,
    drawn: Option<&MonteCarlo>,
) -> PoseBudgetBody {
    let names = match ask.mode {
        Mode::TwoD => ["forward", "left", "up"],
        Mode::ThreeD => ["E", "N", "U"],
    };
    let mut directions: Vec<DirectionBody> = (0..3)
        .map(|axis| DirectionBody {
            name: names[axis].to_owned(),
            u_m: found.u_m.map(|u| u[axis]),
        })
        .collect();
    if let Some(normal) = &found.normal {
        directions.push(DirectionBody {
            name: "along the face normal".to_owned(),
            u_m: normal.u_m,
        });
    }
    let missing: Vec<String> = found
        .missing
        .iter()
        .map(|path| source_label(path))
        .collect();
    PoseBudgetBody {
        joints_deg: joints_deg(model, &pose.joints),
        at_m: found.tooth.level_m,
        covariance_m2: in_machine(found.known_m2, pose.heading_rad),
        directions,
        shares: shares(found, shown),
        // With sources unknown nobody can say which of the known ones helps most.
        help: if found.missing.is_empty() {
            help(found, shown)
        } else {
            vec!["State first what is not stated; until then nobody can say which of the others helps.".to_owned()]
        },
        monte_carlo: drawn.map(|drawn| drawn_body(drawn, names)),
        missing,
    }
}

/// Covariance in easting, northing, up turned to forward, left, up; in 2D it is so already.
fn in_machine(m2: [[f64; 3]; 3], heading_rad: Option<f64>) -> [[f64; 3]; 3] {
    let Some(heading) = heading_rad else {
        return m2;
    };
    let (sin, cos) = heading.sin_cos();
    let turn = [[sin, cos, 0.0], [-cos, sin, 0.0], [0.0, 0.0, 1.0]];
    let mut turned = [[0.0; 3]; 3];
    for (i, row) in turned.iter_mut().enumerate() {
        for (j, cell) in row.iter_mut().enumerate() {
            for (k, a) in turn[i].iter().enumerate() {
                for (l, b) in turn[j].iter().enumerate() {
                    *cell += a * m2[k][l] * b;
                }
            }
        }
    }
    turned
}

/// A share's part of what is shown, its effect there, and what halving it would gain.
fn part_of(share: &Share, found: &PoseBudget, shown: Judged) -> (f64, f64, f64) {
    match shown {
        Judged::Up => (share.part[2], share.effect_m[2].abs(), share.if_halved_m[2]),
        Judged::Normal => {
            let part = share.part_normal.unwrap_or(share.part[2]);
            let whole = found
                .normal
                .as_ref()
                .map_or(0.0, |normal| normal.known_sd_m);
            let gain = share.if_halved_normal_m.unwrap_or(share.if_halved_m[2]);
            (part, whole * part.abs().sqrt(), gain)
        }
        Judged::Plan => {
            let variance = [found.known_m2[0][0], found.known_m2[1][1]];
            let part = (share.part[0] * variance[0] + share.part[1] * variance[1])
                / (variance[0] + variance[1]);
            let effect = share.effect_m[0].hypot(share.effect_m[1]);
            (part, effect, share.if_halved_m[0].max(share.if_halved_m[1]))
        }
    }
}

/// How many shares a person is shown.
const MOST_SHARES: usize = 12;

fn shares(found: &PoseBudget, shown: Judged) -> Vec<ShareBody> {
    let mut all: Vec<ShareBody> = found
        .shares
        .iter()
        .map(|share| {
            let (part, at_tooth_m, _) = part_of(share, found, shown);
            ShareBody {
                name: source_label(&share.name),
                part,
                at_tooth_m,
                sd_text: sd_text(share),
            }
        })
        .filter(|share| share.part.is_finite())
        .collect();
    all.sort_by(|a, b| b.part.total_cmp(&a.part));
    all.truncate(MOST_SHARES);
    all
}

fn sd_text(share: &Share) -> String {
    let Some(sd) = share.sd else {
        return String::new();
    };
    match share.unit {
        SourceUnit::Metre => mm(sd),
        SourceUnit::Radian => plain(
            sd,
            &holdline_sheet::figure::Kind {
                sign: holdline_sheet::figure::Sign::Minus,
                ..DEGREES
            },
            3,
        ),
        SourceUnit::RadianPerSecond => format!("{:.2}°/s", sd.to_degrees()),
    }
}

/// A source as a sentence or a row begins with it.
fn source_label(name: &str) -> String {
    let label = figure_label(name);
    let mut letters = label.chars();
    match letters.next() {
        Some(first) if !label.contains(['.', '[']) => first.to_uppercase().chain(letters).collect(),
        Some(_) | None => label,
    }
}

/// What would help most, at most three sentences.
fn help(found: &PoseBudget, shown: Judged) -> Vec<String> {
    let mut all: Vec<(&Share, f64)> = found
        .shares
        .iter()
        .map(|share| (share, part_of(share, found, shown).2))
        .filter(|(_, gain)| 0.0 < *gain && gain.is_finite())
        .collect();
    all.sort_by(|a, b| b.1.total_cmp(&a.1));
    all.into_iter()
        .take(3)
        .map(|(share, gain)| {
            let own = match sd_text(share).as_str() {
                "" => String::new(),
                text => format!(", now {text},"),
            };
            format!(
                "{}{own} halved would take {} off U.",
                source_label(&share.name),
                mm(gain)
            )
        })
        .collect()
}

fn drawn_body(drawn: &MonteCarlo, names: [&str; 3]) -> MonteCarloBody {
    let mut differs = 0.0_f64;
    let each: Vec<String> = drawn
        .axes
        .iter()
        .zip(names)
        .map(|(axis, name)| {
            let off = (axis.sd_m / axis.linear_sd_m - 1.0).abs();
            if !(off <= differs) {
                differs = off;
            }
            format!("{name} {} (linear {})", mm(axis.sd_m), mm(axis.linear_sd_m))
        })
        .collect();
    let said = if !drawn.missing.is_empty() {
        "Both leave out what nobody stated"
    } else if drawn.parts {
        "The two part: do not rely on the linear figures in this pose"
    } else {
        "The two agree"
    };
    MonteCarloBody {
        n_draws: u32::try_from(drawn.n).unwrap_or(u32::MAX),
        seed: u32::try_from(drawn.seed).unwrap_or(u32::MAX),
        differs,
        parts: drawn.parts,
        words: format!(
            "Monte Carlo, {} draws, standard uncertainty: {}. {said}.",
            drawn.n,
            each.join(", ")
        ),
    }
}

/// The map in the boom plane, and in 3D that of the plan.
fn maps(
    core: &Budget,
    model: &ToothModel,
    ask: &BudgetAsk,
    pose: &BudgetPose,
    shown: Judged,
    work: &Work<'_>,
) -> Result<(EnvelopeMap, MapBody), Faults> {
    let grid = ask.grid.unwrap_or_default();
    let core_work = core_work(work);
    let section_ask = section_ask(ask, grid, pose);
    let section = map(core, &section_ask, &core_work)?;
    let u = |cell: &CellBudget| {
        2.0 * match shown {
            Judged::Up => cell.sd_m[2],
            Judged::Plan => cell.plan_sd_m,
            Judged::Normal => cell.normal_sd_m,
        }
    };
    let values = values_of(&section.cells, u);
    let plan = match ask.mode {
        Mode::TwoD => None,
        Mode::ThreeD => {
            let plan_ask = PlanMapAsk {
                section: MapAsk {
                    n_points: [PLAN_POINTS, PLAN_POINTS],
                    ..section_ask.clone()
                },
                n_points: 2 * PLAN_POINTS + 1,
            };
            let found = plan_map(core, &plan_ask, &core_work)?;
            let n = found.n_points as u32;
            Some(GridBody {
                from_m: found.from_m,
                step_m: found.step_m,
                n_right: n,
                n_up: n,
                not_known: not_known(&found.cells),
                u_m: values_of(&found.cells, u),
            })
        }
    };
    if work.cancel.load(std::sync::atomic::Ordering::Relaxed) {
        return Err(stopped().into());
    }
    let known = || values.iter().flatten().copied();
    let ends = known().fold(None, |ends: Option<[f64; 2]>, u| {
        let [low, high] = ends.unwrap_or([u, u]);
        Some([
            if u < low { u } else { low },
            if high < u { u } else { high },
        ])
    });
    let reached = section
        .cells
        .iter()
        .filter(|cell| !matches!(cell, Cell::OutOfReach));
    let body = MapBody {
        shows: format!(
            "U of {}, k = 2, {}",
            match shown {
                Judged::Up => "the height",
                Judged::Plan => "the plan, worst direction",
                Judged::Normal => "the distance along the face's normal",
            },
            ask.mode_words()
        ),
        range_m: ends,
        n_reached: u32::try_from(reached.count()).unwrap_or(u32::MAX),
        worst_joints_deg: section
            .extremes(u)
            .map_or_else(Vec::new, |[(_, worst), _]| joints_deg(model, &worst.worst)),
        section: GridBody {
            from_m: section.from_m,
            step_m: section.step_m,
            n_right: section.n_points[0] as u32,
            n_up: section.n_points[1] as u32,
            not_known: not_known(&section.cells),
            u_m: values,
        },
        plan,
    };
    Ok((section, body))
}

/// U of every known cell.
fn values_of(cells: &[Cell], u: impl Fn(&CellBudget) -> f64) -> Vec<Option<f64>> {
    cells
        .iter()
        .map(|cell| match cell {
            Cell::Known(budget) => Some(u(budget)).filter(|u| u.is_finite()),
            Cell::OutOfReach | Cell::NotLookedAt | Cell::NotKnown(_) => None,
        })
        .collect()
}

/// Cells within reach of which nothing is known.
fn not_known(cells: &[Cell]) -> Vec<u32> {
    let unknown = |cell: &Cell| matches!(cell, Cell::NotKnown(_) | Cell::NotLookedAt);
    (0..)
        .zip(cells)
        .filter(|(_, cell)| unknown(cell))
        .map(|(idx, _)| idx)
        .collect()
}

/// Points of the plan on either side of the swing axis.
const PLAN_POINTS: usize = 30;

fn stopped() -> Fault {
    Fault::new(
        "V051",
        "map",
        "stopped before all of it was looked at",
        "a map to its end",
        "ask again; a coarser grid takes less time",
    )
}

/// 2D over moves of the machine, beside 3D at the same pose.
fn grown(
    model: &ToothModel,
    ask: &BudgetAsk,
    pose: &BudgetPose,
) -> Result<Option<GrowthBody>, Faults> {
    if ask.rebenches == 0 {
        return Ok(None);
    }
    let still = BudgetAsk {
        rebenches: 0,
        face: None,
        ..ask.clone()
    };
    let height_sd_m = |mode: Mode, heading_rad: Option<f64>| -> Option<f64> {
        let budget = Budget::new(model, &core_ask(model, &still, mode)).ok()?;
        let pose = BudgetPose {
            heading_rad,
            ..*pose
        };
        at_pose(&budget, &pose).ok()?.sd_m.map(|sd| sd[2])
    };
    let heading_rad = Some(pose.heading_rad.unwrap_or(ask.heading_deg.to_radians()));
    let found = growth(&GrowthAsk {
        start_sd_m: height_sd_m(Mode::TwoD, None),
        touch_sd_m: ask.touch_sd_m,
        mark_sd_m: ask.mark_sd_m,
        systematic_m: 0.0,
        three_d_sd_m: height_sd_m(Mode::ThreeD, heading_rad),
        n_moves: ask.rebenches,
        coverage: Coverage::TwoSided,
    })?;
    let u_2d_m: Option<Vec<f64>> = found.steps.iter().map(|step| step.u_m).collect();
    let mut words = Vec::new();
    if !found.missing.is_empty() {
        words.push(format!("Not stated: {}.", found.missing.join(", ")));
    }
    match (&u_2d_m, found.three_d_u_m, found.crosses_at) {
        (None, _, _) => words.push("How 2D grows unsure is not known.".to_owned()),
        (Some(u), _, Some(n)) => words.push(format!(
            "From {n} moves on 2D is no surer than 3D; close on a known level before that. After {} moves it is {}.",
            ask.rebenches,
            mm(u.last().copied().unwrap_or(f64::NAN))
        )),
        (Some(u), Some(_), None) => words.push(format!(
            "2D stays surer than 3D over all {} moves; after them it is {}.",
            ask.rebenches,
            mm(u.last().copied().unwrap_or(f64::NAN))
        )),
        (Some(u), None, None) => words.push(format!(
            "After {} moves 2D is {}; what 3D would be is not known.",
            ask.rebenches,
            mm(u.last().copied().unwrap_or(f64::NAN))
        )),
    }
    Ok(Some(GrowthBody {
        u_2d_m: u_2d_m.unwrap_or_default(),
        u_3d_m: found.three_d_u_m,
        crosses_after: found.crosses_at.map(f64::from),
        words,
    }))
}
