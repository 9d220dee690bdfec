//! Blocks through the workers and out again in the order in which they came in.
//!
//! ```text
//! source -> free parcel filled with lines -> worker: rows, answers, text
//!        -> written in order -> free again
//! ```
//!
//! There are a few parcels and no more, so memory stays the same however long the stream is.
//! Whoever takes lines from the source already holds a parcel, so the parcel that is to be written
//! next is never one that waits for room.

use std::collections::BTreeMap;
use std::io::{ErrorKind, Read, Write};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Mutex, PoisonError};

use holdline_geom::fault::Fault;

use super::answers::{AnswerColumn, Answers, Readings, RowWriter, write_head};
use super::header::Header;
use super::reason::{BadRow, Reason, SIDE_HEADER, Tally, write_side_line};
use super::rows::Rows;
use super::source::{Lines, Source};
use super::{Ended, Options, Progress, Sinks, Summary};

/// Parcels beyond those in the workers' hands.
const PARCELS_MORE: usize = 3;

/// Lines in, text out.
#[derive(Debug, Default)]
struct Parcel {
    lines: Lines,
    out: Vec<u8>,
    side: Vec<u8>,
    tally: Tally,
    n_good: u64,
}

/// What the workers share.
struct Shared<'a, R, F> {
    source: Mutex<(Source<R>, Receiver<Parcel>)>,
    stop: AtomicBool,
    cancel: &'a AtomicBool,
    header: &'a Header,
    answers: &'a [AnswerColumn],
    options: &'a Options,
    answer: &'a F,
}

/// Runs the stream behind a header to its end.
pub(super) fn run<R, F>(
    source: Source<R>,
    header: &Header,
    answers: &[AnswerColumn],
    options: &Options,
    sinks: &mut Sinks<'_>,
    answer: &F,
) -> Result<Summary, Fault>
where
    R: Read + Send,
    F: Fn(&Readings<'_>, &mut Answers) -> Result<(), Fault> + Sync,
{
    let n_workers = options.n_threads.max(1);
    let summary = Summary::new(header, &source);
    let (free, free_parcels) = channel();
    for _ in 0..n_workers + PARCELS_MORE {
        // cannot fail: the receiver lives in `shared` below
        let _ = free.send(Parcel::default());
    }
    let shared = Shared {
        source: Mutex::new((source, free_parcels)),
        stop: AtomicBool::new(false),
        cancel: sinks.cancel,
        header,
        answers,
        options,
        answer,
    };
    std::thread::scope(|scope| {
        let (done, done_parcels) = channel();
        for _ in 0..n_workers {
            let (done, shared) = (done.clone(), &shared);
            scope.spawn(move || work(shared, &done));
        }
        drop(done);
        let result = write_in_order(&shared, &done_parcels, free, sinks, summary);
        shared.stop.store(true, Ordering::Relaxed);
        result
    })
}

/// One worker: until the stream ends, is stopped, or fails.
fn work<R, F>(shared: &Shared<'_, R, F>, done: &Sender<Result<Parcel, Fault>>)
where
    R: Read,
    F: Fn(&Readings<'_>, &mut Answers) -> Result<(), Fault>,
{
    let _alarm = Alarm(done);
    let writer = RowWriter::new(shared.options.format, shared.header, shared.answers);
    let (mut rows, mut answers) = (Rows::default(), Answers::default());
    loop {
        let parcel = match next_parcel(shared) {
            None => return,
            Some(Ok(mut parcel)) => {
                fill(shared, &writer, &mut parcel, &mut rows, &mut answers).map(|()| parcel)
            }
            Some(Err(fault)) => Err(fault),
        };
        let failed = parcel.is_err();
        if failed {
            shared.stop.store(true, Ordering::Relaxed);
        }
        let nobody_there = done.send(parcel).is_err();
        if failed || nobody_there {
            return;
        }
    }
}

/// Tells the calling thread when a worker panics, which is a mistake of ours; without it the parcel
/// of that worker would be waited for for ever.
struct Alarm<'a>(&'a Sender<Result<Parcel, Fault>>);

impl Drop for Alarm<'_> {
    fn drop(&mut self) {
        if std::thread::panicking() {
            // nobody listening means that the stream is over already
            let _ = self.0.send(Err(our_mistake("a worker stopped")));
        }
    }
}

/// The next lines of the source, or none when there is nothing more to do.
fn next_parcel<R: Read, F>(shared: &Shared<'_, R, F>) -> Option<Result<Parcel, Fault>> {
    // a worker that panicked has not touched the source in between; go on to pass its panic on
    let mut guard = shared.source.lock().unwrap_or_else(PoisonError::into_inner);
    let (source, free_parcels) = &mut *guard;
    let stopped = || shared.stop.load(Ordering::Relaxed) || shared.cancel.load(Ordering::Relaxed);
    if stopped() {
        return None;
    }
    let mut parcel = free_parcels.recv().ok()?;
    if stopped() {
        return None;
    }
    match source.fill(&mut parcel.lines, shared.options.block_bytes) {
        Ok(true) => Some(Ok(parcel)),
        Ok(false) => None,
        Err(fault) => Some(Err(fault)),
    }
}

/// From lines to text.
fn fill<R, F>(
    shared: &Shared<'_, R, F>,
    writer: &RowWriter<'_>,
    parcel: &mut Parcel,
    rows: &mut Rows,
    answers: &mut Answers,
) -> Result<(), Fault>
where
    F: Fn(&Readings<'_>, &mut Answers) -> Result<(), Fault>,
{
    let header = shared.header;
    let Parcel {
        lines,
        out,
        side,
        tally,
        n_good,
    } = parcel;
    out.clear();
    side.clear();
    *tally = Tally::default();
    *n_good = 0;

    let mut unread = Vec::new();
    rows.read(header, lines, |bad| unread.push(bad));
    answers.start(shared.answers.len(), rows.n);
    let readings = Readings { rows, header };
    (shared.answer)(&readings, answers)?;
    check_lengths(answers, rows.n)?;

    let mut tell = |bad: &BadRow<'_>| {
        tally.count(&header.file, bad);
        write_side_line(side, bad);
    };
    let block = lines.bytes();
    let mut unread = unread.iter().peekable();
    let mut next_refused = 0;
    for row in 0..rows.n {
        match answers.trouble(row, &mut next_refused) {
            None => {
                writer.write(out, rows, block, answers, row);
                *n_good += 1;
            }
            Some(why) => {
                let (from, to) = rows.spans[row];
                let bad = BadRow {
                    line: rows.lines[row],
                    column_at: 1,
                    column: "",
                    reason: Reason::NoAnswer(why),
                    row: &block[from..to],
                };
                // those that could not even be read and come before it
                while let Some(before) = unread.next_if(|unread| unread.line < bad.line) {
                    tell(before);
                }
                tell(&bad);
            }
        }
    }
    unread.for_each(tell);
    Ok(())
}

/// The caller's function may not change how many answers there are.
fn check_lengths(answers: &Answers, n_rows: usize) -> Result<(), Fault> {
    if answers.columns.iter().all(|column| column.len() == n_rows) {
        return Ok(());
    }
    Err(our_mistake(&format!(
        "a column of answers that are not {n_rows}, one a row"
    )))
}

fn our_mistake(what: &str) -> Fault {
    Fault::new(
        "T611",
        "answers",
        what,
        "an answer a row",
        "this is a mistake in holdline; please report it with the command you gave",
    )
}

/// The calling thread: takes parcels as they come, writes them in order, and gives them back.
fn write_in_order<R, F>(
    shared: &Shared<'_, R, F>,
    done: &Receiver<Result<Parcel, Fault>>,
    free: Sender<Parcel>,
    sinks: &mut Sinks<'_>,
    mut summary: Summary,
) -> Result<Summary, Fault> {
    let mut free = Some(free);
    let mut text = Vec::new();
    write_head(
        &mut text,
        shared.options.format,
        shared.header,
        shared.answers,
    );
    if !write_to(sinks.out, &text, false, &mut summary)? {
        return Ok(summary);
    }
    let mut early = BTreeMap::new();
    let mut next = 0;
    let mut fault = None;
    for parcel in done {
        match parcel {
            Ok(parcel) => {
                early.insert(parcel.lines.sequence, parcel);
            }
            Err(f) => {
                fault.get_or_insert(f);
                // a parcel is missing now; let nobody wait for a free one
                free = None;
            }
        }
        while let Some(parcel) = early.remove(&next) {
            next += 1;
            if !write_parcel(&parcel, sinks, &mut summary)? {
                return Ok(summary);
            }
            if let Some(free) = &free {
                // the workers are gone when nobody takes it, and then it is not needed
                let _ = free.send(parcel);
            }
        }
    }
    if let Some(fault) = fault {
        return Err(fault);
    }
    write_to(sinks.out, &[], true, &mut summary)?;
    if shared.cancel.load(Ordering::Relaxed) {
        summary.ended = Ended::Cancelled;
    }
    Ok(summary)
}

/// False when whoever read the output has gone.
fn write_parcel(
    parcel: &Parcel,
    sinks: &mut Sinks<'_>,
    summary: &mut Summary,
) -> Result<bool, Fault> {
    if let Some(side) = &mut sinks.side
        && !parcel.side.is_empty()
    {
        let first = summary.tally.n_bad() == 0;
        let head = if first { SIDE_HEADER.as_bytes() } else { &[] };
        side.write_all(head)
            .and_then(|()| side.write_all(&parcel.side))
            .and_then(|()| side.flush())
            .map_err(|e| cannot_write("the side file for rows that cannot be used", &e))?;
    }
    summary.n_good += parcel.n_good;
    summary.n_lines = parcel.lines.first_line + parcel.lines.n_lines as u64 - 1;
    summary.n_bytes = parcel.lines.n_bytes_so_far;
    summary.tally.add(parcel.tally.clone());
    if !write_to(sinks.out, &parcel.out, parcel.lines.paused, summary)? {
        return Ok(false);
    }
    (sinks.progress)(Progress {
        n_bytes: summary.n_bytes,
        n_good: summary.n_good,
        n_bad: summary.tally.n_bad(),
    });
    Ok(true)
}

fn write_to(
    out: &mut dyn Write,
    text: &[u8],
    flush: bool,
    summary: &mut Summary,
) -> Result<bool, Fault> {
    let written = out
        .write_all(text)
        .and_then(|()| if flush { out.flush() } else { Ok(()) });
    match written {
        Ok(()) => Ok(true),
        Err(e) if e.kind() == ErrorKind::BrokenPipe => {
            summary.ended = Ended::NobodyReads;
            Ok(false)
        }
        Err(e) => Err(cannot_write("the output", &e)),
    }
}

fn cannot_write(what: &str, error: &std::io::Error) -> Fault {
    Fault::new(
        "T609",
        what,
        error.to_string(),
        "room on the disk and leave to write there",
        "make room or choose another place; what was written is whole up to its last line end",
    )
}
