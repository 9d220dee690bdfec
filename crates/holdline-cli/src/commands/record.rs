//! `holdline record …`.

use super::machine::figures;
use super::{read, write_sheet};
use crate::Stop;
use crate::args::{Common, RecordCommand};
use crate::out;
use holdline_geom::fault::Fault;
use holdline_steps::exit::Exit;
use holdline_steps::job::{Job, JobView, RecordView, stamp_now};
use holdline_steps::sheets::Which;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Runs one of the record commands.
pub fn run(command: RecordCommand, common: &Common) -> Result<Exit, Stop> {
    match command {
        RecordCommand::Start { job, by } => start(&job, &by, common),
        RecordCommand::Add { job, files, by } => add(&job, &files, &by, common),
        RecordCommand::List { job } => list(&job, common),
        RecordCommand::Show { job, number } => show(&job, number, common),
        RecordCommand::Recompute { job, number } => recompute(&job, number, common),
        RecordCommand::Verify { job, printed } => verify(&job, printed.as_deref(), common),
        RecordCommand::Print {
            job,
            number,
            output,
            card,
        } => print(&job, number, &output, card, common),
        RecordCommand::Sign {
            job,
            number,
            name,
            role,
        } => sign(&job, number, &name, &role, common),
        RecordCommand::Supersede {
            job,
            number,
            with,
            reason,
            by,
        } => supersede(&job, number, with, &reason, &by, common),
    }
}

fn start(path: &Path, by: &str, common: &Common) -> Result<Exit, Stop> {
    stamp_now(by)?; // a name that cannot stand in a record is refused before there is a file
    let job = Job::create(path)?;
    if common.json {
        out::json(&job.view()?)?;
    } else {
        writeln!(
            io::stdout(),
            "a new job in {}; add a machine sheet first",
            path.display()
        )?;
    }
    Ok(Exit::Good)
}

fn add(path: &Path, files: &[PathBuf], by: &str, common: &Common) -> Result<Exit, Stop> {
    let mut job = Job::open(path)?;
    let mut taken = Vec::new();
    let mut faults = holdline_geom::fault::Faults::none();
    for file in files {
        let name = file.file_name().map_or_else(
            || file.display().to_string(),
            |n| n.to_string_lossy().into_owned(),
        );
        let came = read(file)
            .map_err(Into::into)
            .and_then(|bytes| job.import(&name, &bytes, &stamp_now(by)?));
        match came {
            Ok(view) => taken.push(view),
            Err(more) => faults.0.extend(more.0),
        }
    }
    if common.json && faults.is_empty() {
        out::json(&serde_json::json!({ "documents": taken }))?;
    } else if !common.json {
        let rows: Vec<Vec<String>> = taken
            .iter()
            .map(|d| {
                vec![
                    format!("{:>4}", d.number),
                    d.name.clone(),
                    d.kind.clone(),
                    d.text.clone(),
                ]
            })
            .collect();
        write!(io::stdout(), "{}", out::table(&rows))?;
    }
    Ok(faults.or(Exit::Good)?)
}

fn list(path: &Path, common: &Common) -> Result<Exit, Stop> {
    let job = Job::open_read_only(path)?;
    let (view, chain) = (job.view()?, job.check_chain()?);
    let end = if chain.whole { Exit::Good } else { Exit::No };
    if common.json {
        out::json(&view)?;
        return Ok(end);
    }
    let mut to = io::stdout().lock();
    writeln!(to, "job {}", view.name)?;
    documents(&mut to, &view)?;
    if view.records.is_empty() {
        writeln!(to, "\nno record yet")?;
    } else {
        writeln!(to, "\nrecords")?;
        let rows: Vec<Vec<String>> = view.records.iter().map(record_row).collect();
        write!(to, "{}", out::table(&rows))?;
    }
    writeln!(to, "\nlast hash of the chain\n  {}", view.chain_tail)?;
    if !chain.whole {
        writeln!(to, "\nDo not rely on this job. {}", chain.text)?;
    }
    Ok(end)
}

fn documents(to: &mut impl Write, view: &JobView) -> io::Result<()> {
    if view.documents.is_empty() {
        return writeln!(to, "\nno document yet");
    }
    writeln!(to, "\ndocuments")?;
    let rows: Vec<Vec<String>> = view
        .documents
        .iter()
        .map(|d| {
            let state = if d.current { "current" } else { "older" };
            vec![
                format!("{:>4}", d.number),
                d.name.clone(),
                d.kind.clone(),
                state.to_owned(),
                d.added_at.clone(),
            ]
        })
        .collect();
    write!(to, "{}", out::table(&rows))
}

fn record_row(record: &RecordView) -> Vec<String> {
    let mut state = Vec::new();
    match record.signatures.last() {
        Some(by) => state.push(format!("signed by {}, {}", by.name, by.role)),
        None => state.push("not signed".to_owned()),
    }
    if let Some(by) = record.superseded_by {
        state.push(format!("superseded by {by}"));
    }
    if let Some(why) = &record.stale {
        state.push(format!("stale: {why}"));
    }
    vec![
        format!("{:>4}", record.seq),
        record.title.clone(),
        record.outcome.clone(),
        state.join("; "),
        record.made_at.clone(),
    ]
}

fn show(path: &Path, number: u64, common: &Common) -> Result<Exit, Stop> {
    let view = Job::open_read_only(path)?.record_body(number, common.units.into())?;
    if common.json {
        out::json(&view)?;
        return Ok(Exit::Good);
    }
    let mut to = io::stdout().lock();
    write!(to, "{}", out::table(&[record_row(&view.record)]))?;
    if let Some(result) = &view.result {
        writeln!(to, "{}", result.decision)?;
    }
    for sentence in &view.words {
        writeln!(to, "{sentence}")?;
    }
    figures(&mut to, &view.figures)?;
    for finding in &view.findings {
        writeln!(to, "{} {}: {}", finding.code, finding.place, finding.text)?;
    }
    writeln!(to, "\nbody hash {}", view.record.body_hash)?;
    Ok(Exit::Good)
}

fn recompute(path: &Path, number: u64, common: &Common) -> Result<Exit, Stop> {
    let view = Job::open_read_only(path)?.recompute(number)?;
    if common.json {
        out::json(&view)?;
    } else {
        let mut to = io::stdout().lock();
        writeln!(to, "{}", view.text)?;
        for difference in &view.differences {
            writeln!(to, "  {difference}")?;
        }
    }
    Ok(if view.same { Exit::Good } else { Exit::No })
}

fn verify(path: &Path, printed: Option<&str>, common: &Common) -> Result<Exit, Stop> {
    let job = Job::open_read_only(path)?;
    let view = job.check_chain()?;
    let found = match printed {
        None => None,
        Some(hash) => Some(job.check_printed(hash)?),
    };
    if common.json {
        out::json(&serde_json::json!({ "chain": view, "printed_is_link_of_record": found }))?;
    } else {
        let mut to = io::stdout().lock();
        writeln!(to, "{}", view.text)?;
        writeln!(to, "last hash of the chain\n  {}", view.tail)?;
        if let Some(seq) = found {
            writeln!(to, "the printed hash is that of record {seq}")?;
        }
    }
    Ok(if view.whole { Exit::Good } else { Exit::No })
}

fn print(
    path: &Path,
    number: u64,
    output: &Path,
    card: bool,
    common: &Common,
) -> Result<Exit, Stop> {
    let mut job = Job::open_read_only(path)?;
    let chain = job.check_chain()?;
    if !chain.whole {
        return Err(Fault::new(
            "R044",
            path.display().to_string(),
            chain.text,
            "a job whose every hash is right",
            "print from a copy of the job that is whole; nothing was written",
        )
        .into());
    }
    let which = if card { Which::Card } else { Which::Sheet };
    let written = write_sheet(&mut job, number, output, which, common)?;
    if common.json {
        out::json(&serde_json::json!({ "files": written }))?;
    } else {
        for file in written {
            writeln!(io::stdout(), "{}", file.display())?;
        }
    }
    Ok(Exit::Good)
}

fn sign(path: &Path, number: u64, name: &str, role: &str, common: &Common) -> Result<Exit, Stop> {
    let mut job = Job::open(path)?;
    let stamp = stamp_now(name)?;
    let date = stamp.at().get(..10).unwrap_or_default().to_owned();
    let seq = job.sign(number, name, role, &date, &stamp)?;
    if common.json {
        out::json(&serde_json::json!({ "sign_off": seq, "chain_tail": job.view()?.chain_tail }))?;
    } else {
        writeln!(
            io::stdout(),
            "record {number} signed by {name}, {role}; the sign-off is record {seq}"
        )?;
    }
    Ok(Exit::Good)
}

fn supersede(
    path: &Path,
    number: u64,
    with: u64,
    reason: &str,
    by: &str,
    common: &Common,
) -> Result<Exit, Stop> {
    let mut job = Job::open(path)?;
    let seq = job.supersede(number, with, reason, &stamp_now(by)?)?;
    if common.json {
        out::json(&serde_json::json!({ "record": seq }))?;
    } else {
        writeln!(
            io::stdout(),
            "record {with} stands in the place of record {number}; said in record {seq}"
        )?;
    }
    Ok(Exit::Good)
}
