//! Edits of a sheet that keep its comments, order and layout.

use holdline_geom::fault::{Fault, Faults, number};
use toml_edit::{Array, DocumentMut, InlineTable, Item, TableLike, Value};

use super::fields::SHEET;
use super::form::{Given, axes_of};
use super::layout::{as_number, kept, plain, put, put_or_remove, replace, with_line_ends_of};
use crate::document::leaf::is_name;
use crate::document::path::{Step, entry_idx, steps};
use crate::document::table::{Field, Kind, Need, Section};
use crate::text::{LARGEST_SHEET_BYTES, check_size, quoted};

/// A change of one field, by the path that the form gives it.
#[derive(Debug, Clone, PartialEq)]
pub struct Edit {
    /// Path of the field.
    pub path: String,
    /// The new value; nothing takes the field out of the sheet.
    pub value: Given,
    /// Its standard uncertainty; `None` says that nobody states one. Ignored where a field has none.
    pub sd: Option<f64>,
}

/// A sheet after its edits.
#[derive(Debug, Clone, PartialEq)]
pub struct Edited {
    /// The new text.
    pub text: String,
    /// Edits that could not be made, F040 to F044; the others are in the text.
    pub faults: Faults,
}

/// Makes the edits, one after the other. The text is not checked; read it again for that.
///
/// A field that already says what it is to say is left as it stands, digits and all.
pub fn apply_edits(text: &str, edits: &[Edit]) -> Edited {
    if let Err(fault) = check_size("", text.len(), LARGEST_SHEET_BYTES) {
        return Edited {
            text: text.to_owned(),
            faults: fault.into(),
        };
    }
    let mut doc: DocumentMut = match text.parse() {
        Ok(doc) => doc,
        Err(_) => {
            let fault = Fault::new(
                "F040",
                "",
                "a sheet with a line that is not TOML",
                "a sheet that reads as TOML",
                "correct that line in the text first; the reader names it",
            );
            return Edited {
                text: text.to_owned(),
                faults: fault.into(),
            };
        }
    };
    let mut faults = Faults::none();
    for edit in edits {
        let done = in_section(&SHEET, doc.as_table_mut(), &steps(&edit.path), edit);
        faults.keep(done);
    }
    Edited {
        text: with_line_ends_of(text, doc.to_string()),
        faults,
    }
}

type Done = Result<(), Fault>;

fn in_section(of: &Section, table: &mut dyn TableLike, path: &[Step], edit: &Edit) -> Done {
    let Some((step, rest)) = path.split_first() else {
        return no_field(edit);
    };
    let Some(field) = of.field(&step.key) else {
        return no_field(edit);
    };
    match field.kind {
        Kind::Inside(inner) => match table.get_mut(&step.key).and_then(Item::as_table_like_mut) {
            Some(inside) => in_section(inner, inside, rest, edit),
            None => no_field(edit),
        },
        Kind::List {
            of: inner,
            named_by,
            ..
        } => {
            let entry = step.entry.as_deref().unwrap_or("");
            match table
                .get_mut(&step.key)
                .and_then(|i| entry_of(i, named_by, entry))
            {
                Some(inside) => in_section(inner, inside, rest, edit),
                None => no_field(edit),
            }
        }
        Kind::InsideOr { of: inner, .. } if !rest.is_empty() => {
            match table.get_mut(&step.key).and_then(Item::as_table_like_mut) {
                Some(inside) => in_section(inner, inside, rest, edit),
                None => no_field(edit),
            }
        }
        _ => in_field(of, field, table, rest, edit),
    }
}

/// The entry of a list, whether it was written with headers or inline.
fn entry_of<'d>(list: &'d mut Item, named_by: &str, entry: &str) -> Option<&'d mut dyn TableLike> {
    let name = |table: &dyn TableLike| {
        table
            .get(named_by)
            .and_then(Item::as_str)
            .filter(|n| is_name(n))
            .map(str::to_owned)
    };
    match list {
        Item::ArrayOfTables(tables) => {
            let names: Vec<_> = tables.iter().map(|t| name(t)).collect();
            let table = tables.get_mut(entry_idx(entry, &names)?)?;
            Some(table)
        }
        Item::Value(Value::Array(items)) => {
            let names: Vec<_> = items
                .iter()
                .map(|v| v.as_inline_table().and_then(|t| name(t)))
                .collect();
            let table = items
                .get_mut(entry_idx(entry, &names)?)?
                .as_inline_table_mut()?;
            Some(table)
        }
        _ => None,
    }
}

fn in_field(
    of: &Section,
    field: &Field,
    table: &mut dyn TableLike,
    rest: &[Step],
    edit: &Edit,
) -> Done {
    let axes = axes_of(field.kind);
    if !axes.is_empty() {
        let [axis] = rest else { return no_field(edit) };
        let Some(idx) = axes.iter().position(|a| *a == axis.key) else {
            return no_field(edit);
        };
        return in_point(of, field, table, idx, edit);
    }
    if !rest.is_empty() {
        return no_field(edit);
    }
    let value = match (&edit.value, field.kind) {
        (Given::Nothing, _) => {
            table.remove(field.key);
            return Ok(());
        }
        (given, Kind::Number(_) | Kind::Measured(_)) => Value::from(figure(given, edit)?),
        (given, Kind::Whole { .. } | Kind::Sign) => whole(figure(given, edit)?),
        (Given::Text(text), Kind::Numbers(_) | Kind::PlaneLine | Kind::SpaceLine) => {
            list(text, edit)?
        }
        (Given::Text(text), _) => Value::from(text.as_str()),
        (Given::Number(number), _) => Value::from(*number),
    };
    match (field.kind, edit.sd) {
        (Kind::Measured(_), sd) => put_measured(table, field.key, value, checked_sd(sd, edit)?),
        _ => put(table, field.key, value),
    }
    Ok(())
}

fn put_measured(table: &mut dyn TableLike, key: &str, value: Value, sd: Option<f64>) {
    let inside = table.get_mut(key).and_then(Item::as_table_like_mut);
    match (sd, inside) {
        (Some(sd), Some(inside)) => {
            put(inside, "value", value);
            put(inside, "sd", Value::from(sd));
        }
        (None, Some(inside)) if inside.get("sd").is_none() => put(inside, "value", value),
        (None, Some(inside)) => {
            let bare = kept(inside.get("value").and_then(Item::as_value), value);
            put(table, key, bare);
        }
        (None, None) => put(table, key, value),
        (Some(sd), None) => {
            let mut both = InlineTable::new();
            both.insert(
                "value",
                kept(table.get(key).and_then(Item::as_value), value),
            );
            both.insert("sd", Value::from(sd));
            put(table, key, Value::InlineTable(both));
        }
    }
}

/// Sets one axis of a point. Axes that nobody has given yet stand as `nan`, which the reader tells.
fn in_point(
    of: &Section,
    field: &Field,
    table: &mut dyn TableLike,
    idx: usize,
    edit: &Edit,
) -> Done {
    let axes = axes_of(field.kind);
    let axis = match &edit.value {
        Given::Nothing => f64::NAN,
        given => figure(given, edit)?,
    };
    let bare = !matches!(field.kind, Kind::PlanePoint | Kind::SpacePoint);
    let beside = of
        .fields
        .iter()
        .any(|f| matches!(f.kind, Kind::PointSd { .. }));
    let sd = checked_sd(edit.sd, edit)?;
    let at_key = match table.get(field.key) {
        Some(item) if !bare && item.is_table_like() => Some("at"),
        _ => None,
    };
    let old = point_array(table, field.key, at_key, axes.len());
    let all_gone = axis.is_nan()
        && old
            .iter()
            .enumerate()
            .all(|(i, v)| i == idx || as_number(v).is_none_or(f64::is_nan));
    if all_gone && matches!(field.need, Need::May) {
        table.remove(field.key);
        return Ok(());
    }
    let mut array = old;
    if let Some(slot) = array.get_mut(idx) {
        let new = kept(Some(slot), Value::from(axis));
        replace(slot, new);
    }
    let sd_now = match (at_key, bare, beside) {
        (Some(_), ..) => table.get(field.key).and_then(|i| i.get("sd")),
        (None, true, true) => table.get("sd"),
        (None, ..) => None,
    };
    let sd = new_sd(sd_now.and_then(Item::as_value), idx, axes.len(), sd);
    put_point(table, field, at_key, bare && beside, array, sd, bare);
    Ok(())
}

fn put_point(
    table: &mut dyn TableLike,
    field: &Field,
    at_key: Option<&str>,
    beside: bool,
    array: Array,
    sd: Option<Value>,
    bare: bool,
) {
    let array = Value::Array(array);
    if let Some(at) = at_key {
        let Some(inside) = table.get_mut(field.key).and_then(Item::as_table_like_mut) else {
            return;
        };
        put(inside, at, array);
        put_or_remove(inside, "sd", sd);
        return;
    }
    match (sd, bare) {
        (sd, true) => {
            put(table, field.key, array);
            if beside {
                put_or_remove(table, "sd", sd);
            }
        }
        (None, false) => put(table, field.key, array),
        (Some(sd), false) => {
            let mut both = InlineTable::new();
            both.insert("at", plain(array));
            both.insert("sd", sd);
            put(table, field.key, Value::InlineTable(both));
        }
    }
}

/// The point's numbers as they stand; missing ones as `nan`.
fn point_array(table: &dyn TableLike, key: &str, at_key: Option<&str>, n: usize) -> Array {
    let item = table.get(key);
    let item = match at_key {
        Some(at) => item.and_then(|i| i.get(at)),
        None => item,
    };
    let mut array = item.and_then(Item::as_array).cloned().unwrap_or_default();
    while array.len() < n {
        array.push(f64::NAN);
    }
    array
}

/// The point's sd after one axis was given `sd`.
fn new_sd(now: Option<&Value>, idx: usize, n: usize, sd: Option<f64>) -> Option<Value> {
    let sd = sd?;
    match now {
        Some(Value::Array(array)) => {
            let mut array = array.clone();
            if let Some(slot) = array.get_mut(idx) {
                let new = kept(Some(slot), Value::from(sd));
                replace(slot, new);
            }
            Some(Value::Array(array))
        }
        Some(one) if as_number(one) == Some(sd) => Some(one.clone()),
        Some(one) => {
            let old = as_number(one).unwrap_or(sd);
            let axes = (0..n).map(|i| if i == idx { sd } else { old });
            Some(Value::Array(axes.collect()))
        }
        None => Some(Value::from(sd)),
    }
}

/// A number that was typed, finite.
fn figure(given: &Given, edit: &Edit) -> Result<f64, Fault> {
    let typed = match given {
        Given::Number(number) => Some(*number),
        Given::Text(text) => text.trim().parse().ok(),
        Given::Nothing => None,
    };
    match typed {
        Some(figure) if figure.is_finite() => Ok(figure),
        _ => {
            let got = match given {
                Given::Number(figure) => number(*figure),
                Given::Text(text) => quoted(text),
                Given::Nothing => "nothing".to_owned(),
            };
            let fix = "type the number with a point, without unit";
            Err(Fault::new("F041", &edit.path, got, "a number", fix))
        }
    }
}

fn whole(figure: f64) -> Value {
    if figure.fract() == 0.0 && figure.abs() < 1e9 {
        Value::from(figure as i64)
    } else {
        Value::from(figure) // the reader tells that it is not whole
    }
}

fn list(text: &str, edit: &Edit) -> Result<Value, Fault> {
    match text.trim().parse::<Value>() {
        Ok(value @ Value::Array(_)) => Ok(plain(value)),
        _ => {
            let want = "a list in brackets, such as [[0.0, 0.1], [0.2, 0.3]]";
            let fix =
                "check that every bracket is closed and every number has a point, not a comma";
            Err(Fault::new("F042", &edit.path, quoted(text), want, fix))
        }
    }
}

fn checked_sd(sd: Option<f64>, edit: &Edit) -> Result<Option<f64>, Fault> {
    match sd {
        Some(sd) if !(sd.is_finite() && 0.0 < sd) => Err(Fault::new(
            "F043",
            &edit.path,
            number(sd),
            "a standard uncertainty above 0, or none",
            "leave it empty if nobody knows it, which counts as unknown, not as zero",
        )),
        sd => Ok(sd),
    }
}

fn no_field(edit: &Edit) -> Done {
    Err(Fault::new(
        "F044",
        &edit.path,
        "a path that leads to no field of this sheet",
        "the path of a field of its form",
        "load the form again: the sheet may have been changed since",
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    const DEMO: &str = include_str!("../../../../demo/demo-23.machine.toml");

    fn edit(path: &str, value: Given, sd: Option<f64>) -> Edit {
        Edit {
            path: path.to_owned(),
            value,
            sd,
        }
    }

    /// The edit changes the one line of the demo into the other and nothing else.
    #[track_caller]
    fn check(edit: Edit, old: &str, new: &str) {
        assert!(DEMO.contains(old), "the demo has no {old:?}");
        let edited = apply_edits(DEMO, &[edit]);
        assert_eq!(edited.faults.to_string(), "");
        let want = DEMO.replacen(old, new, 1);
        let differs = edited.text.lines().zip(want.lines()).find(|(a, b)| a != b);
        assert_eq!(differs, None);
        assert_eq!(edited.text, want);
    }

    #[test]
    fn one_value_changes_and_nothing_else() {
        let number = Given::Number;
        check(
            edit("stick.length", number(2.951), Some(0.002)),
            "[stick]\nlength = { value = 2.940, sd = 0.003 }",
            "[stick]\nlength = { value = 2.951, sd = 0.002 }",
        );
        check(
            edit("stick.length", number(2.94), None),
            "[stick]\nlength = { value = 2.940, sd = 0.003 }",
            "[stick]\nlength = 2.940",
        );
        check(
            edit("tracks.height", number(0.95), None),
            "height = 0.92",
            "height = 0.95",
        );
        check(
            edit("tracks.gauge", number(2.39), Some(0.005)),
            "gauge = 2.39",
            "gauge = { value = 2.39, sd = 0.005 }",
        );
        check(
            edit("boom.foot.z", number(1.852), Some(0.003)),
            "foot = { at = [0.150, -0.045, 1.850], sd = 0.003 }",
            "foot = { at = [0.150, -0.045, 1.852], sd = 0.003 }",
        );
        check(
            edit("boom.foot.z", number(1.85), Some(0.005)),
            "foot = { at = [0.150, -0.045, 1.850], sd = 0.003 }",
            "foot = { at = [0.150, -0.045, 1.850], sd = [0.003, 0.003, 0.005] }",
        );
        check(
            edit("house.eye.z", number(2.36), Some(0.01)),
            "eye = [0.720, 0.940, 2.350]",
            "eye = { at = [0.720, 0.940, 2.36], sd = 0.01 }",
        );
        check(
            edit("bucket[G180].tooth[left].at.x", number(-0.13), Some(0.004)),
            "at = [-0.120, 0.900, -1.174]",
            "at = [-0.13, 0.900, -1.174]",
        );
        check(
            edit("cylinder[2].base.at.x", number(3.5), Some(0.002)),
            "base = { link = \"boom\", at = [3.450, 0.900] }",
            "base = { link = \"boom\", at = [3.5, 0.900], sd = 0.002 }",
        );
        check(
            edit("linkage.branch", Given::Text("-1".into()), None),
            "branch = 1",
            "branch = -1",
        );
        check(
            edit("machine.note", Given::Text("short".into()), None),
            "note = \"invented, about 23 t, mono boom\"",
            "note = \"short\"",
        );
        check(
            edit("machine.note", Given::Nothing, None),
            "note = \"invented, about 23 t, mono boom\"\n",
            "",
        );
        check(edit("stick.length", number(2.94), Some(0.003)), "", "");
    }

    #[test]
    fn an_edit_that_cannot_be_made_says_so_and_the_others_are_made() {
        let edited = apply_edits(
            DEMO,
            &[
                edit("stick.length", Given::Text("2,94".into()), None),
                edit("tracks.height", Given::Number(0.95), Some(0.0)),
                edit("bucket[X].width", Given::Number(0.95), None),
                edit("tracks.length", Given::Number(4.5), None),
                edit("bucket[T75].outline", Given::Text("[[1, 2".into()), None),
            ],
        );
        assert!(edited.text.contains("length = 4.5\n"));
        assert_eq!(
            edited.faults.to_string(),
            "fault F041 at stick.length\n  got   \"2,94\"\n  want  a number\n  fix   type the number with a point, without unit
fault F043 at tracks.height\n  got   0\n  want  a standard uncertainty above 0, or none\n  fix   leave it empty if nobody knows it, which counts as unknown, not as zero
fault F044 at bucket[X].width\n  got   a path that leads to no field of this sheet\n  want  the path of a field of its form\n  fix   load the form again: the sheet may have been changed since
fault F042 at bucket[T75].outline\n  got   \"[[1, 2\"\n  want  a list in brackets, such as [[0.0, 0.1], [0.2, 0.3]]\n  fix   check that every bracket is closed and every number has a point, not a comma"
        );
        assert_eq!(
            apply_edits("a = [", &[]).faults.to_string(),
            "fault F040\n  got   a sheet with a line that is not TOML\n  want  a sheet that reads as TOML\n  fix   correct that line in the text first; the reader names it"
        );
    }

    #[test]
    fn a_point_may_be_given_axis_by_axis() {
        let bare = DEMO.replacen("eye = [0.720, 0.940, 2.350]\n", "", 1);
        let one = apply_edits(&bare, &[edit("house.eye.x", Given::Number(0.5), None)]);
        assert!(one.text.contains("eye = [0.5, nan, nan]"), "{}", one.text);
        let gone = apply_edits(&one.text, &[edit("house.eye.x", Given::Nothing, None)]);
        assert_eq!(gone.text, bare);
    }

    #[test]
    fn line_ends_stay() {
        let windows = DEMO.replace('\n', "\r\n");
        let edited = apply_edits(
            &windows,
            &[edit("tracks.height", Given::Number(0.95), None)],
        );
        assert_eq!(
            edited.text,
            windows.replacen("height = 0.92", "height = 0.95", 1)
        );
    }

    #[test]
    fn odd_layouts_stay() {
        for odd in [
            "at = [-0.178,\n 0.375, -1.449], sd = 0.004 }",
            "at = [-0.178, 0.375, # off the outer tooth\n -1.449 ,], sd = 0.004 }",
            "at = [ -0.178 ,0.375,-1.449 ] , sd = 4e-3}",
        ] {
            let text = DEMO.replacen("at = [-0.178, 0.375, -1.449], sd = 0.004 }", odd, 1);
            let same = Edit {
                path: "bucket[T75].tooth[left].at.y".to_owned(),
                value: Given::Number(0.375),
                sd: Some(0.004),
            };
            assert_eq!(apply_edits(&text, &[same]).text, text);
        }
    }

    #[test]
    fn every_field_of_the_form_can_be_edited_with_its_own_value() {
        let form = super::super::form::form(DEMO);
        let edits: Vec<Edit> = form
            .groups
            .into_iter()
            .flat_map(|g| g.fields)
            .map(|f| Edit {
                path: f.path,
                value: f.value,
                sd: f.sd,
            })
            .collect();
        assert!(200 < edits.len());
        let edited = apply_edits(DEMO, &edits);
        assert_eq!(edited.faults.to_string(), "");
        assert_eq!(edited.text, DEMO);
    }
}
