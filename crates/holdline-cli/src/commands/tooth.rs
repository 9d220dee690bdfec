//! `holdline tooth`.

use super::{cannot_read, cannot_write, machine_and_tool, part_of, sds_m};
use crate::Stop;
use crate::args::{Common, StreamForm, ToothArgs};
use crate::out;
use holdline_geom::fault::Fault;
use holdline_steps::exit::Exit;
use holdline_steps::tooth_stream::{
    Ended, Progress, Sinks, StreamAsk, StreamEnd, stream_tooth, tooth_model,
};
use std::fs::File;
use std::io::{self, BufWriter, IsTerminal, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

/// Turns readings into teeth.
pub fn run(args: &ToothArgs, common: &Common) -> Result<Exit, Stop> {
    let bad_path = bad_path(args);
    refuse_to_write_over(args, &bad_path)?;
    let model = tooth_model(&machine_and_tool(&args.tool)?)?;
    let ask = ask(args)?;
    let (name, input): (String, Box<dyn Read + Send>) = match readings_file(args) {
        None => ("standard input".to_owned(), Box::new(io::stdin())),
        Some(path) => (path.display().to_string(), Box::new(open(path)?)),
    };
    let mut side = LazyFile {
        path: bad_path.clone(),
        file: None,
    };
    let mut to: Box<dyn Write> = match &args.output {
        None => Box::new(io::stdout().lock()),
        Some(path) => Box::new(create(&part_of(path))?),
    };
    let cancel = AtomicBool::new(false);
    let mut told = Told::new(common.quiet || !io::stderr().is_terminal());
    let end = {
        let mut progress = |so_far: Progress| told.tell(&so_far);
        let mut sinks = Sinks {
            out: &mut to,
            side: Some(&mut side),
            progress: &mut progress,
            cancel: &cancel,
        };
        stream_tooth(&model, &ask, &name, input, &mut sinks)?
    };
    told.clear();
    if end.summary.ended != Ended::NobodyReads {
        to.flush()?;
    }
    drop(to);
    if let Some(path) = &args.output {
        std::fs::rename(part_of(path), path)?; // whole, or the old one stays
    }
    side.finish()?;
    if let Some(fault) = end.summary.nothing_answered(&name) {
        summary(&end, &bad_path, common)?;
        return Err(fault.into());
    }
    summary(&end, &bad_path, common)?;
    Ok(if end.summary.tally.n_bad() == 0 {
        Exit::Good
    } else {
        Exit::No
    })
}

/// What is read is never written over, under whatever name.
fn refuse_to_write_over(args: &ToothArgs, bad_path: &Path) -> Result<(), Fault> {
    let real = |path: &Path| path.canonicalize().ok();
    let inputs = [
        Some(args.tool.machine.as_path()),
        args.tool.calibration.as_deref(),
        readings_file(args),
    ];
    let outputs = [args.output.as_deref(), Some(bad_path)];
    for output in outputs.into_iter().flatten() {
        let there = real(output);
        let same = |input: &&Path| there.is_some() && real(input) == there;
        if inputs.iter().flatten().any(same) {
            return Err(Fault::new(
                "F068",
                output.display().to_string(),
                "an output that is one of the inputs",
                "another file",
                "choose another name; nothing was written",
            ));
        }
    }
    if args.output.as_deref() == Some(bad_path) {
        return Err(Fault::new(
            "F068",
            bad_path.display().to_string(),
            "one file for teeth and for rows that cannot be used",
            "two files",
            "choose another name for one of them; nothing was written",
        ));
    }
    Ok(())
}

fn ask(args: &ToothArgs) -> Result<StreamAsk, Fault> {
    let position = match &args.position_sd_mm {
        None => [None; 3],
        Some(text) => {
            let [h, v] = sds_m("--position-sd-mm", text)?;
            [Some(h), Some(h), Some(v)]
        }
    };
    Ok(StreamAsk {
        ground_m: args.ground,
        plain: args.plain,
        position_sd_m: position,
        heading_sd_rad: args.heading_sd.map(f64::to_radians),
        json_lines: args.form == StreamForm::Jsonl,
        n_threads: std::thread::available_parallelism().map_or(2, usize::from),
    })
}

fn readings_file(args: &ToothArgs) -> Option<&Path> {
    args.readings
        .as_deref()
        .filter(|path| *path != Path::new("-"))
}

/// The side file: named, or beside the output, or beside the input, or in the folder at hand.
fn bad_path(args: &ToothArgs) -> PathBuf {
    if let Some(path) = &args.bad {
        return path.clone();
    }
    let beside = args.output.as_deref().or(readings_file(args));
    beside.map_or_else(
        || PathBuf::from("readings.bad.csv"),
        |path| path.with_extension("bad.csv"),
    )
}

/// What was done, on standard error, so that the teeth can be piped on.
fn summary(end: &StreamEnd, bad_path: &Path, common: &Common) -> io::Result<()> {
    let mut to = io::stderr().lock();
    let summary = &end.summary;
    let n_bad = summary.tally.n_bad();
    for fault in summary.tally.first() {
        writeln!(to, "{fault}")?;
    }
    if common.quiet && n_bad == 0 {
        return Ok(());
    }
    let place = if end.plan.on_site {
        "on the site"
    } else {
        "over the ground at the swing axis"
    };
    writeln!(
        to,
        "{} {place} from {}",
        teeth(summary.n_good),
        out::count(summary.n_lines as usize, "line")
    )?;
    if !summary.not_used.is_empty() {
        writeln!(to, "columns not used: {}", summary.not_used.join(", "))?;
    }
    if !end.plan.no_uncertainty_because.is_empty() {
        writeln!(
            to,
            "no uncertainty stated: {}",
            end.plan.no_uncertainty_because.join(", ")
        )?;
    }
    if n_bad != 0 {
        let rows = out::count(n_bad as usize, "row");
        writeln!(to, "{rows} not used, kept whole in {}", bad_path.display())?;
        for (reason, column, n) in summary.tally.by_reason() {
            writeln!(to, "  {n:>8}  {} {column}", reason.words())?;
        }
    }
    match summary.ended {
        Ended::AtTheEnd | Ended::NobodyReads => Ok(()),
        Ended::Cancelled => writeln!(to, "stopped before the end of the input"),
    }
}

fn teeth(n: u64) -> String {
    if n == 1 {
        "1 tooth".to_owned()
    } else {
        format!("{n} teeth")
    }
}

/// A line of progress on a terminal, ten times a second at most.
struct Told {
    quiet: bool,
    last: Instant,
    shown: bool,
}

impl Told {
    fn new(quiet: bool) -> Told {
        Told {
            quiet,
            last: Instant::now(),
            shown: false,
        }
    }

    fn tell(&mut self, so_far: &Progress) {
        if self.quiet || self.last.elapsed() < Duration::from_millis(100) {
            return;
        }
        self.last = Instant::now();
        self.shown = true;
        let mb = so_far.n_bytes as f64 / 1e6;
        eprint!(
            "\r{mb:10.1} MB  {:12} teeth  {:8} rows not used",
            so_far.n_good, so_far.n_bad
        );
    }

    fn clear(&self) {
        if self.shown {
            eprint!("\r{:60}\r", "");
        }
    }
}

/// A file that is made when the first byte goes into it.
struct LazyFile {
    path: PathBuf,
    file: Option<BufWriter<File>>,
}

impl LazyFile {
    fn finish(self) -> Result<(), Stop> {
        if let Some(mut file) = self.file {
            file.flush()?;
        }
        Ok(())
    }
}

impl Write for LazyFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if self.file.is_none() {
            self.file = Some(BufWriter::new(File::create(&self.path)?));
        }
        self.file.as_mut().map_or(Ok(0), |file| file.write(bytes))
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.as_mut().map_or(Ok(()), Write::flush)
    }
}

fn open(path: &Path) -> Result<File, Fault> {
    File::open(path).map_err(|error| cannot_read(path, &error))
}

fn create(path: &Path) -> Result<File, Fault> {
    File::create(path).map_err(|error| cannot_write(path, &error))
}
