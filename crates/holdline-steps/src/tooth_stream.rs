//! Readings in, teeth out: the stream behind `holdline tooth`.

use crate::calibrate::for_another_tool;
use crate::machine_view::MachineAndTool;
use holdline::machine::joints::Joints;
use holdline::tooth::attitude::Lean;
use holdline::tooth::batch::{Layout, PairColumns, StandColumns, ToothColumns, Unusable};
use holdline::tooth::batch_model::{Batch, BatchWithSds, Origin};
use holdline::tooth::model::ToothModel;
use holdline::tooth::plan::{Given, Plan, Source};
use holdline::tooth::readings::Readings;
use holdline_files::readings::answers::{AnswerColumn, Answers, Format};
use holdline_files::readings::wants::{Quantity, Want};
pub use holdline_files::readings::{Ended, Progress, Sinks, Summary};
use holdline_files::readings::{OpenStream, Options, answers};
use holdline_geom::fault::{Fault, Faults};
use std::io::Read;

/// What is asked of the stream beyond machine and tool.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct StreamAsk {
    /// Height of the ground at the swing axis over the job's datum, m: gives the tooth's elevation in 2D.
    pub ground_m: Option<f64>,
    /// Leave the uncertainties out.
    pub plain: bool,
    /// Standard uncertainty of an antenna position, east, north, up, m.
    pub position_sd_m: [Option<f64>; 3],
    /// Standard uncertainty of a given heading, rad.
    pub heading_sd_rad: Option<f64>,
    /// JSON lines instead of CSV.
    pub json_lines: bool,
    /// Workers.
    pub n_threads: usize,
}

/// Which answers a stream gives, settled by its header.
#[derive(Debug, Clone, PartialEq)]
pub struct StreamPlan {
    /// On the site, or only over the ground.
    pub on_site: bool,
    /// Why there are no uncertainty columns; empty: there are.
    pub no_uncertainty_because: Vec<String>,
}

/// A stream's end.
#[derive(Debug, Clone, PartialEq)]
pub struct StreamEnd {
    /// What was read and written.
    pub summary: Summary,
    /// Which answers were given.
    pub plan: StreamPlan,
}

/// Places in the list of wants.
const PITCH: usize = 0;
const ROLL: usize = 1;
const HEADING: usize = 2;
const ANTENNAS: [usize; 2] = [3, 6];
const SENSORS: usize = 9;

/// The model behind a stream, made once.
///
/// # Errors
///
/// `T001` for an unknown tool; `V041` for a calibration made with another tool: in a stream nobody reads a remark.
pub fn tooth_model(tool: &MachineAndTool) -> Result<ToothModel, Fault> {
    if let Some(other) = tool.findings.iter().find(|finding| finding.code == "V041") {
        return Err(for_another_tool("calibration", other.text.clone()));
    }
    ToothModel::new(&tool.machine, &tool.choice)
}

/// Turns a stream of readings into teeth.
///
/// Columns: `pitch`, `roll`, one a sensor by link or sensor name, and for the site `easting`,
/// `northing`, `elevation` of the antenna with `heading`, or of two antennas; each with its unit
/// behind, such as `boom_deg`.
///
/// # Errors
///
/// `T003` a joint without sensor, `T041` a position without heading, and the reader's faults.
pub fn stream_tooth(
    model: &ToothModel,
    ask: &StreamAsk,
    file: &str,
    input: impl Read + Send,
    sinks: &mut Sinks<'_>,
) -> Result<StreamEnd, Faults> {
    let plan = model.plan()?.clone();
    let wants = wants(model, &plan);
    let mut options = Options::new(file);
    options.format = if ask.json_lines {
        Format::JsonLines
    } else {
        Format::Csv
    };
    options.n_threads = ask.n_threads;
    let stream = OpenStream::open(input, &wants, &options)?;
    let on_site = settle_site(model, file, |want_idx| stream.has(want_idx))?;
    let heading_given = stream.has(HEADING);
    let no_uncertainty_because = if ask.plain {
        vec!["left out as asked".to_owned()]
    } else {
        missing_uncertainty(model, ask, on_site, heading_given)
    };
    let with_sd = no_uncertainty_because.is_empty();
    let second = (0..3).filter(|axis| stream.has(ANTENNAS[1] + axis)).count();
    let origin = match (on_site, heading_given, second) {
        (false, _, _) => Some(Origin::SwingAxis),
        (true, true, 0) => Some(Origin::Antenna(0)),
        (true, false, 3) => Some(Origin::TwoAntennas),
        // a heading beside two antennas is judged row by row
        (true, _, _) => None,
    };
    let work = Work {
        model,
        plan: &plan,
        ask,
        on_site,
        with_sd,
        fast: origin.and_then(|origin| Fast::of(model, ask, origin, with_sd)),
    };
    let columns = work.columns();
    let answer = |rows: &answers::Readings<'_>, out: &mut Answers| {
        work.answer(rows, out);
        Ok(())
    };
    let summary = stream.write_answers(&columns, &options, sinks, &answer)?;
    Ok(StreamEnd {
        summary,
        plan: StreamPlan {
            on_site,
            no_uncertainty_because,
        },
    })
}

fn wants(model: &ToothModel, plan: &Plan) -> Vec<Want> {
    let antennas = &model.machine().sheet().antennas;
    let mut wants = vec![
        Want::needed("pitch"),
        Want::needed("roll"),
        Want::optional("heading"),
    ];
    for (antenna_idx, suffix) in ["", "_2"].iter().enumerate() {
        for axis in ["easting", "northing", "elevation"] {
            let want = Want::optional(&format!("{axis}{suffix}"));
            wants.push(match antennas.get(antenna_idx) {
                Some(antenna) => want.or_named(&format!("{}_{axis}", antenna.id)),
                None => want,
            });
        }
    }
    for source in sources(plan) {
        wants.push(
            Want::needed(&column_word(source))
                .holding(Quantity::Angle)
                .or_named(&plan.sensor_ids[source.sensor_idx]),
        );
    }
    wants
}

/// Sensors in the order of their columns.
fn sources(plan: &Plan) -> Vec<&Source> {
    [
        Some(&plan.boom),
        plan.boom_upper.as_ref(),
        Some(&plan.stick),
        Some(&plan.bucket),
    ]
    .into_iter()
    .flatten()
    .chain(
        plan.encoders_first
            .iter()
            .filter(|s| s.joint != holdline::machine::claim::Joint::Swing),
    )
    .collect()
}

/// The column's name without unit: the joint's, or `idler` for a sensor on the idler.
pub fn column_word(source: &Source) -> String {
    match source.gives {
        Given::Idler => "idler".to_owned(),
        Given::Joint => source.joint.word().replace('-', "_"),
    }
}

/// Whether the header has what a place on the site needs.
fn settle_site(model: &ToothModel, file: &str, has: impl Fn(usize) -> bool) -> Result<bool, Fault> {
    let there = |first: usize| (first..first + 3).all(&has);
    if !there(ANTENNAS[0]) {
        return Ok(false);
    }
    if model.machine().sheet().antennas.is_empty() {
        return Err(Fault::new(
            "T042",
            file,
            "a position, and no antenna on the machine sheet",
            "an [[antenna]] with its lever arm",
            "measure the antenna from the swing axis: forward, left, up",
        ));
    }
    if !has(HEADING) && !there(ANTENNAS[1]) {
        return Err(Fault::new(
            "T041",
            file,
            "a position without a heading",
            "a column heading_deg, or the position of a second antenna (easting_2_m, northing_2_m, elevation_2_m)",
            "one antenna alone says where it is, not which way the boom points",
        ));
    }
    Ok(true)
}

/// Which sources have no stated uncertainty, tried in a leaning pose in mid-stroke, where everything moves the tooth.
fn missing_uncertainty(
    model: &ToothModel,
    ask: &StreamAsk,
    on_site: bool,
    heading_given: bool,
) -> Vec<String> {
    let machine = model.machine();
    let middle = |joint| {
        machine
            .range(joint)
            .map_or(0.0, |r| (r.nominal_rad[0] + r.nominal_rad[1]) / 2.0)
    };
    let joints = Joints::<f64>::zero().map(|joint, _| middle(joint));
    let lean = Lean {
        pitch: 0.05,
        roll: 0.04,
    };
    let Ok(mut readings) = model.readings_at(&joints, &lean) else {
        return vec!["the linkage does not close in mid-stroke".to_owned()];
    };
    if on_site {
        readings.heading_rad = heading_given.then_some(1.0);
        let levers = machine.sheet().antennas.iter().map(|a| a.lever);
        let turn = lean.site_turn(1.0);
        readings.antennas_m = levers
            .map(|l| {
                let at =
                    turn * holdline_geom::frame::Direction::metres(l.x.value, l.y.value, l.z.value);
                Some(at.vector().into())
            })
            .collect();
    }
    let measured = model.with_sheet_sds(&readings, ask.heading_sd_rad, ask.position_sd_m);
    match model.fix(&measured) {
        Ok(fix) => fix.site.map_or(fix.level.missing, |site| site.missing),
        Err(faults) => faults.0.into_iter().map(|fault| fault.at).collect(),
    }
}

/// One stream's work.
struct Work<'a> {
    model: &'a ToothModel,
    plan: &'a Plan,
    ask: &'a StreamAsk,
    on_site: bool,
    with_sd: bool,
    fast: Option<Fast>,
}

impl Work<'_> {
    fn columns(&self) -> Vec<AnswerColumn> {
        let mut names = if self.on_site {
            vec!["easting_m", "northing_m", "elevation_m"]
        } else {
            vec!["forward_m", "left_m", "up_m"]
        };
        if self.with_sd {
            names.extend(if self.on_site {
                ["sd_easting_m", "sd_northing_m", "sd_elevation_m"]
            } else {
                ["sd_forward_m", "sd_left_m", "sd_up_m"]
            });
        }
        if !self.on_site && self.ask.ground_m.is_some() {
            names.push("elevation_m");
        }
        names.into_iter().map(AnswerColumn::metres).collect()
    }

    fn answer(&self, rows: &answers::Readings<'_>, out: &mut Answers) {
        let quick = self
            .fast
            .as_ref()
            .is_some_and(|fast| fast.answer(rows, out, self.on_site));
        if !quick {
            for row in 0..rows.n_rows() {
                self.answer_row(rows, out, row);
            }
        }
        if let (false, Some(ground_m), Some(last)) = (
            self.on_site,
            self.ask.ground_m,
            self.columns().len().checked_sub(1),
        ) {
            for row in 0..rows.n_rows() {
                out.columns[last][row] = out.columns[2][row] + ground_m;
            }
        }
    }

    fn answer_row(&self, rows: &answers::Readings<'_>, out: &mut Answers, row: usize) {
        let readings = self.readings(rows, row);
        let answered = if self.with_sd {
            let measured = self.model.with_sheet_sds(
                &readings,
                self.ask.heading_sd_rad,
                self.ask.position_sd_m,
            );
            self.model.fix_in_stream(&measured).map(|fix| {
                let sd = if self.on_site {
                    fix.site_sd_m
                } else {
                    fix.level_sd_m
                };
                (fix.solution, Some(sd))
            })
        } else {
            self.model.tooth(&readings).map(|solution| (solution, None))
        };
        let (solution, sd) = match answered {
            // Every source has an uncertainty here, or none was asked for: the antennas contradict each other.
            Ok((_, Some(None))) => return out.refuse(row, words_of("T016")),
            Ok((solution, sd)) => (solution, sd.flatten()),
            Err(faults) => {
                return out.refuse(row, words_of(faults.0.first().map_or("", |f| f.code)));
            }
        };
        let tooth = if self.on_site {
            solution
                .tooth_site
                .map_or([f64::NAN; 3], |t| t.vector().into())
        } else {
            solution.tooth_level.vector().into()
        };
        for axis in 0..3 {
            out.columns[axis][row] = tooth[axis];
            if let Some(sd) = sd {
                out.columns[3 + axis][row] = sd[axis];
            }
        }
    }

    fn readings(&self, rows: &answers::Readings<'_>, row: usize) -> Readings<f64> {
        let at = |want: usize| rows.column(want).map(|column| column[row]);
        let sheet = self.model.machine().sheet();
        let mut sensors_rad = vec![None; sheet.sensors.len()];
        for (k, source) in sources(self.plan).into_iter().enumerate() {
            sensors_rad[source.sensor_idx] = at(SENSORS + k);
        }
        let antenna = |first: usize| Some([at(first)?, at(first + 1)?, at(first + 2)?]);
        Readings {
            house_rad: at(PITCH).zip(at(ROLL)).map(|(p, r)| [p, r]),
            sensors_rad,
            heading_rad: if self.on_site { at(HEADING) } else { None },
            antennas_m: (0..sheet.antennas.len())
                .map(|k| {
                    ANTENNAS
                        .get(k)
                        .filter(|_| self.on_site)
                        .and_then(|first| antenna(*first))
                })
                .collect(),
        }
    }
}

/// Why a row gives no tooth, in words that are counted.
fn words_of(code: &str) -> &'static str {
    match code {
        "T002" => "a reading is missing",
        "T004" => "a reading beyond all bounds",
        "T010" | "T011" => "the bucket linkage cannot close",
        "T012" => "a single-axis reading that no one angle gives",
        "T013" => "two tilts that no attitude gives",
        "T014" => "two antennas at one place",
        "T015" => "a joint where its cylinder cannot put it",
        "T016" => "two antennas that contradict their lever arms",
        "T017" => "a heading that contradicts the two antennas",
        _ => "no tooth came out",
    }
}

/// The usual machine, a block at a time; see [`Batch::of`].
#[derive(Debug)]
enum Fast {
    Plain(Box<Batch>),
    WithSds(Box<BatchWithSds>),
}

impl Fast {
    /// None where the rows must go one by one.
    fn of(model: &ToothModel, ask: &StreamAsk, origin: Origin, with_sd: bool) -> Option<Fast> {
        let batch = Batch::of(model, origin)?;
        if !with_sd {
            return Some(Fast::Plain(Box::new(batch)));
        }
        let sds = batch.with_sds(model, ask.heading_sd_rad, ask.position_sd_m)?;
        Some(Fast::WithSds(Box::new(sds)))
    }

    /// Answers a whole block; false when a column is missing.
    fn answer(&self, rows: &answers::Readings<'_>, out: &mut Answers, on_site: bool) -> bool {
        let n = rows.n_rows();
        let still = vec![0.0; n];
        // At a heading of 90° easting is forward and northing is left.
        let ahead = vec![std::f64::consts::FRAC_PI_2; n];
        let given = |want_idx: usize| match (on_site, want_idx) {
            (false, HEADING) => Some(ahead.as_slice()),
            (false, want_idx) if ANTENNAS[0] <= want_idx => Some(still.as_slice()),
            (_, want_idx) => rows.column(want_idx),
        };
        let place = |first: usize| [given(first), given(first + 1), given(first + 2)];
        let [Some(east_m), Some(north_m), Some(up_m)] = place(ANTENNAS[0]) else {
            return false;
        };
        let (Some(pitch_rad), Some(roll_rad)) = (rows.column(PITCH), rows.column(ROLL)) else {
            return false;
        };
        let [Some(boom_rad), Some(stick_rad), Some(bucket_rad)] =
            [0, 1, 2].map(|k| rows.column(SENSORS + k))
        else {
            return false;
        };
        let by_one = given(HEADING).map(|heading_rad| StandColumns {
            pitch_rad,
            roll_rad,
            heading_rad,
            east_m,
            north_m,
            up_m,
        });
        let second = match rows.column(ANTENNAS[1]) {
            Some(_) if on_site => place(ANTENNAS[1]),
            Some(_) | None => [None; 3],
        };
        let by_two = match second {
            [Some(east), Some(north), Some(up)] => Some(PairColumns {
                pitch_rad,
                roll_rad,
                first_m: [east_m, north_m, up_m],
                second_m: [east, north, up],
            }),
            _ => None,
        };
        let angles = [boom_rad, stick_rad, bucket_rad];
        let Some(done) = self.predict(by_one, by_two, angles, &mut out.columns) else {
            return false;
        };
        let Ok(unusable) = done else { return false };
        for Unusable { epoch_idx, why } in unusable {
            out.refuse(epoch_idx, words_of(why.code()));
        }
        true
    }

    /// None where the columns are not those that the machine was made ready for.
    fn predict(
        &self,
        by_one: Option<StandColumns<'_>>,
        by_two: Option<PairColumns<'_>>,
        angles: [&[f64]; 3],
        columns: &mut [Vec<f64>],
    ) -> Option<Result<Vec<Unusable>, Fault>> {
        // The stream shares blocks out over the cores already.
        let layout = Layout::default();
        let [east_m, north_m, up_m, sds @ ..] = columns else {
            return None;
        };
        let teeth = ToothColumns {
            east_m,
            north_m,
            up_m,
        };
        match (self, by_one, by_two) {
            (Fast::Plain(batch), Some(stand), None) => {
                Some(batch.predict(&stand, angles, teeth, layout))
            }
            (Fast::Plain(batch), None, Some(stand)) => {
                Some(batch.predict_by_two(&stand, angles, teeth, layout))
            }
            (Fast::WithSds(batch), by_one, by_two) => {
                let [east_m, north_m, up_m, ..] = sds else {
                    return None;
                };
                let out = (
                    teeth,
                    ToothColumns {
                        east_m,
                        north_m,
                        up_m,
                    },
                );
                match (by_one, by_two) {
                    (Some(stand), None) => Some(batch.predict(&stand, angles, out, layout)),
                    (None, Some(stand)) => Some(batch.predict_by_two(&stand, angles, out, layout)),
                    _ => None,
                }
            }
            _ => None,
        }
    }
}
