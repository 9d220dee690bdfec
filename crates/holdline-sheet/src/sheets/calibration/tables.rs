//! Tables of the calibration report.

use holdline_geom::measured::Measured;

use super::{CalibratedRow, CalibrationSheet, Counts, Fate, PoseLine, Residual};
use crate::figure::{Coverage, DEGREES, Figure, Kind, NONE_STATED, Sign, figure, plain, rounded};
use crate::frame::LEAST_PT;
use crate::lengths::Lengths;
use crate::table::{Cell, Side, Table, column};
use crate::words::Words;

const NONE: &str = "–";

/// Angles to a thousandth of a degree where their uncertainty carries it.
const FINE_DEGREES: Kind = Kind {
    bare_decimals: 3,
    most_decimals: 3,
    ..DEGREES
};

fn kind_of(counts: Counts, lengths: Lengths) -> Kind {
    match counts {
        Counts::Metres => lengths.fine(),
        Counts::Radians => FINE_DEGREES,
    }
}

/// A change or a residual: tenths of a millimetre, thousandths of a degree.
fn small(lengths: Lengths, counts: Counts, value: Option<f64>, sign: Sign) -> String {
    let Some(value) = value.filter(|v| v.is_finite()) else {
        return NONE.to_owned();
    };
    match counts {
        Counts::Metres => lengths.small_text(Some(value), 1, sign),
        Counts::Radians => plain(value, &Kind { sign, ..DEGREES }, 3),
    }
}

fn bare(value: Option<f64>, decimals: i32, sign: Sign) -> String {
    match value.filter(|v| v.is_finite()) {
        Some(value) => rounded(value, decimals, sign),
        None => NONE.to_owned(),
    }
}

fn column_of(table: &mut Table, title: &str, side: Side) {
    table.columns.push(column(title.to_owned(), side));
}

fn empty() -> Table {
    Table {
        columns: Vec::new(),
        rows: Vec::new(),
        size_pt: LEAST_PT,
    }
}

/// Figures before and now, with what changed.
pub(super) fn figures_table(sheet: &CalibrationSheet, words: &Words) -> Table {
    let lengths = sheet.block.lengths;
    let mut table = empty();
    column_of(&mut table, "", Side::Left);
    column_of(&mut table, &words.figure_name, Side::Left);
    column_of(&mut table, &words.before, Side::Right);
    column_of(&mut table, &words.now, Side::Right);
    column_of(&mut table, &words.change, Side::Right);
    let with_remarks = sheet.figures.iter().any(|f| !f.remark.is_empty());
    if with_remarks {
        column_of(&mut table, &words.remark, Side::Left);
    }
    for (idx, row) in sheet.figures.iter().enumerate() {
        let kind = kind_of(row.counts, lengths);
        let mut cells = vec![
            Cell::words((idx + 1).to_string()),
            Cell::words(row.name.clone()),
            soft(row.before, &kind),
            Cell::Figure(now(row, &kind, words)),
            Cell::words(change(row, lengths)),
        ];
        if with_remarks {
            cells.push(Cell::words(row.remark.clone()));
        }
        table.rows.push(cells);
    }
    table
}

/// What is; a figure without an uncertainty after a fit was not determined by it.
fn now(row: &CalibratedRow, kind: &Kind, words: &Words) -> Figure {
    let mut now = figure(row.now, kind, Coverage::Twice);
    if now.uncertainty == NONE_STATED {
        now.uncertainty = words.figure_not_determined.to_string();
    }
    now
}

/// What was, in a lighter weight than what is.
fn soft(measured: Measured, kind: &Kind) -> Cell {
    let was: Figure = figure(measured, kind, Coverage::Twice);
    Cell::words(was.text())
}

fn change(row: &CalibratedRow, lengths: Lengths) -> String {
    small(
        lengths,
        row.counts,
        Some(row.now.value - row.before.value),
        Sign::Both,
    )
}

/// What was rejected, and why.
pub(super) fn rejected_table(sheet: &CalibrationSheet, words: &Words) -> Table {
    let lengths = sheet.block.lengths;
    let mut table = empty();
    column_of(&mut table, &words.observation, Side::Left);
    column_of(&mut table, &words.pose, Side::Left);
    column_of(&mut table, &words.kind, Side::Left);
    column_of(&mut table, &words.residual, Side::Right);
    column_of(&mut table, &words.in_its_sd, Side::Right);
    column_of(&mut table, &words.why, Side::Left);
    for residual in &sheet.residuals {
        let why = match &residual.fate {
            Fate::Rejected(why) => why.clone(),
            Fate::Kept | Fate::Unchecked => continue,
        };
        table.rows.push(vec![
            Cell::Strong(residual.name.clone()),
            Cell::words(residual.pose.clone()),
            Cell::words(residual.kind.clone()),
            Cell::words(small(lengths, residual.counts, residual.off, Sign::Both)),
            Cell::words(bare(residual.in_sd, 1, Sign::Both)),
            Cell::words(twins_too(why, residual)),
        ]);
    }
    table
}

fn twins_too(why: String, residual: &Residual) -> String {
    match residual.twins.as_str() {
        "" => why,
        twins => format!("{why} {twins}"),
    }
}

/// How sure the tooth was and is.
pub(super) fn tooth_table(sheet: &CalibrationSheet, words: &Words) -> Table {
    let lengths = sheet.block.lengths;
    let mut table = empty();
    column_of(&mut table, "", Side::Left);
    for direction in [&words.forward, &words.left_way, &words.up_way] {
        column_of(
            &mut table,
            &format!("{direction}, {}", words.u_twice),
            Side::Right,
        );
    }
    for tooth in &sheet.tooth {
        let mut row = vec![Cell::Strong(tooth.name.clone())];
        for idx in 0..3 {
            let now = twice(lengths, tooth.sd_now_m[idx]);
            let before = twice(lengths, tooth.sd_before_m[idx]);
            row.push(Cell::words(format!("{now} ({} {before})", words.was)));
        }
        table.rows.push(row);
    }
    table
}

/// `± 9.2 mm`, twice the standard uncertainty.
pub(super) fn twice(lengths: Lengths, sd_m: Option<f64>) -> String {
    match sd_m.filter(|sd| sd.is_finite()) {
        Some(sd) => format!("± {}", lengths.u_text(Some(2.0 * sd))),
        None => crate::figure::NOT_KNOWN.to_owned(),
    }
}

/// Poses with what to know of them.
pub(super) fn pose_table(poses: &[PoseLine], words: &Words) -> Table {
    let mut table = empty();
    column_of(&mut table, &words.pose, Side::Left);
    column_of(&mut table, &words.how, Side::Left);
    column_of(&mut table, &words.remark, Side::Left);
    for pose in poses {
        table.rows.push(vec![
            Cell::Strong(pose.name.clone()),
            Cell::words(pose.words.clone()),
            Cell::words(pose.remark.clone()),
        ]);
    }
    table
}

/// A row a kind of observation: the worst of each.
pub(super) fn reliability_by_kind(sheet: &CalibrationSheet, words: &Words) -> Table {
    let lengths = sheet.block.lengths;
    let mut table = empty();
    column_of(&mut table, &words.kind, Side::Left);
    column_of(&mut table, &words.number, Side::Right);
    column_of(&mut table, &words.rejected, Side::Right);
    column_of(&mut table, &words.unchecked, Side::Right);
    column_of(&mut table, &words.least_redundancy, Side::Right);
    column_of(&mut table, &words.largest_detectable, Side::Right);
    column_of(&mut table, &words.at_tooth_worst, Side::Right);
    for kind in super::residual_plot::kinds(&sheet.residuals) {
        let mine: Vec<&Residual> = sheet.residuals.iter().filter(|r| r.kind == kind).collect();
        let count = |wanted: fn(&Fate) -> bool| mine.iter().filter(|r| wanted(&r.fate)).count();
        let counts = mine.first().map_or(Counts::Metres, |r| r.counts);
        table.rows.push(vec![
            Cell::words(kind),
            Cell::words(mine.len().to_string()),
            Cell::words(count(|f| matches!(f, Fate::Rejected(_))).to_string()),
            Cell::words(count(|f| *f == Fate::Unchecked).to_string()),
            Cell::words(bare(
                extreme(&mine, |r| r.redundancy, f64::min),
                2,
                Sign::Minus,
            )),
            Cell::words(small(
                lengths,
                counts,
                extreme(&mine, |r| r.detectable, f64::max),
                Sign::Minus,
            )),
            Cell::Strong(small(
                lengths,
                Counts::Metres,
                extreme(&mine, |r| r.at_tooth_m, f64::max),
                Sign::Minus,
            )),
        ]);
    }
    table
}

/// The least or the largest of those that count and have one.
fn extreme(
    mine: &[&Residual],
    of: fn(&Residual) -> Option<f64>,
    pick: fn(f64, f64) -> f64,
) -> Option<f64> {
    mine.iter()
        .filter(|r| !matches!(r.fate, Fate::Rejected(_)))
        .filter_map(|r| of(r).filter(|v| v.is_finite()))
        .reduce(pick)
}

/// As many observations are all listed.
pub(super) const LIST_ALL: usize = 60;

/// Beyond so many of its own sd a residual is listed whatever became of it.
const LISTED_BEYOND: f64 = 2.0;

/// Observations, a row each: all of a few, of many those that a person must look at.
pub(super) fn observations_table(sheet: &CalibrationSheet, words: &Words) -> Table {
    let lengths = sheet.block.lengths;
    let mut table = empty();
    column_of(&mut table, &words.observation, Side::Left);
    column_of(&mut table, &words.pose, Side::Left);
    column_of(&mut table, &words.residual, Side::Right);
    column_of(&mut table, &words.in_its_sd, Side::Right);
    column_of(&mut table, &words.redundancy, Side::Right);
    column_of(&mut table, &words.detectable, Side::Right);
    column_of(&mut table, &words.at_tooth, Side::Right);
    column_of(&mut table, &words.remark, Side::Left);
    let few = sheet.residuals.len() <= LIST_ALL;
    let listed = |residual: &&Residual| {
        let far = residual.in_sd.is_none_or(|w| !(w.abs() <= LISTED_BEYOND));
        few || far || !matches!(residual.fate, Fate::Kept)
    };
    for residual in sheet.residuals.iter().filter(listed) {
        let fate = match &residual.fate {
            Fate::Kept => String::new(),
            Fate::Unchecked => words.unchecked.to_string(),
            Fate::Rejected(_) => words.rejected.to_string(),
        };
        let remark = match (fate.as_str(), residual.twins.as_str()) {
            (fate, "") => fate.to_owned(),
            ("", twins) => twins.to_owned(),
            (fate, twins) => format!("{fate}. {twins}"),
        };
        table.rows.push(vec![
            Cell::words(residual.name.clone()),
            Cell::words(residual.pose.clone()),
            Cell::words(small(lengths, residual.counts, residual.off, Sign::Both)),
            Cell::words(bare(residual.in_sd, 1, Sign::Both)),
            Cell::words(bare(residual.redundancy, 2, Sign::Minus)),
            Cell::words(small(
                lengths,
                residual.counts,
                residual.detectable,
                Sign::Minus,
            )),
            Cell::words(small(
                lengths,
                Counts::Metres,
                residual.at_tooth_m,
                Sign::Minus,
            )),
            Cell::words(remark),
        ]);
    }
    table
}
