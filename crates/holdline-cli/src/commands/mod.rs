//! One file a command.

pub mod budget;
pub mod calibrate;
pub mod demo;
pub mod desk;
pub mod explain;
pub mod machine;
pub mod record;
pub mod serve;
pub mod tooth;
pub mod verify;

use crate::Stop;
use crate::args::{Common, Tool};
use holdline_geom::fault::Fault;
use holdline_steps::job::Job;
use holdline_steps::machine_view::{MachineAndTool, ToolWords, load_machine_and_tool};
use holdline_steps::records::Entry;
use holdline_steps::sheets::{FileForm, Which};
use holdline_steps::views::SdPair;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// The fault of a file that cannot be read.
pub fn cannot_read(path: &Path, error: &io::Error) -> Fault {
    Fault::new(
        "F060",
        path.display().to_string(),
        format!("a file that cannot be read: {error}"),
        "a file that is there and may be read",
        "check the name and the folder",
    )
}

/// The fault of a file that cannot be written.
pub fn cannot_write(path: &Path, error: &io::Error) -> Fault {
    Fault::new(
        "F061",
        path.display().to_string(),
        format!("a file that cannot be written: {error}"),
        "a folder that is there, with space, that may be written",
        "choose another place, or free some space",
    )
}

/// The bytes of a file that the person named.
pub fn read(path: &Path) -> Result<Vec<u8>, Fault> {
    fs::read(path).map_err(|error| cannot_read(path, &error))
}

/// Where a file grows until it is whole.
pub fn part_of(path: &Path) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(".part");
    PathBuf::from(name)
}

/// Writes a file whole: beside its place first, then put there in one step, so that a crash leaves the old one.
pub fn write(path: &Path, bytes: &[u8]) -> Result<(), Fault> {
    let beside = part_of(path);
    fs::write(&beside, bytes)
        .and_then(|()| fs::rename(&beside, path))
        .map_err(|error| {
            let _ = fs::remove_file(&beside); // what is left of a failed save is no use to anybody
            cannot_write(path, &error)
        })
}

/// The machine and the tool that the person named.
pub fn machine_and_tool(tool: &Tool) -> Result<MachineAndTool, Stop> {
    let bytes = read(&tool.machine)?;
    let words = ToolWords {
        coupler: tool.coupler.as_deref(),
        pin_on: tool.pin_on,
        tilt: tool.tilt.as_deref(),
        bucket: tool.bucket.as_deref(),
        tooth: &tool.tooth,
    };
    let calibration = match &tool.calibration {
        Some(path) => Some((path.display().to_string(), read(path)?)),
        None => None,
    };
    Ok(load_machine_and_tool(
        &tool.machine.display().to_string(),
        &bytes,
        calibration
            .as_ref()
            .map(|(name, bytes)| (name.as_str(), bytes.as_slice())),
        &words,
    )?)
}

/// `a,b` or `a,b,c` typed on the command line.
pub fn numbers<const N: usize>(at: &str, text: &str, want: &str) -> Result<[f64; N], Fault> {
    let fault = || {
        Fault::new(
            "F062",
            at,
            format!("{text:?}"),
            want,
            "type the numbers with a point for decimals and commas between, no spaces",
        )
    };
    let parts: Result<Vec<f64>, _> = text
        .split(',')
        .map(|part| part.trim().parse::<f64>())
        .collect();
    let parts: [f64; N] = parts
        .map_err(|_| fault())?
        .try_into()
        .map_err(|_| fault())?;
    if parts.iter().all(|p| p.is_finite()) {
        Ok(parts)
    } else {
        Err(fault())
    }
}

/// What a file's ending asks for.
pub fn form_of(path: &Path) -> Result<FileForm, Fault> {
    match path
        .extension()
        .and_then(|e| e.to_str())
        .map(str::to_lowercase)
        .as_deref()
    {
        Some("pdf") => Ok(FileForm::Pdf),
        Some("png") => Ok(FileForm::Png),
        Some("svg") => Ok(FileForm::Svg),
        _ => Err(Fault::new(
            "F067",
            path.display().to_string(),
            "an ending that says no kind of sheet",
            ".pdf, .png or .svg",
            "name the file with one of these endings",
        )),
    }
}

/// The name of a page's own file.
fn page_path(path: &Path, page_idx: usize) -> PathBuf {
    if page_idx == 0 {
        return path.to_owned();
    }
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let ending = path.extension().unwrap_or_default().to_string_lossy();
    path.with_file_name(format!("{stem}-{}.{ending}", page_idx + 1))
}

/// Writes a record's sheet or card; gives the files.
pub fn write_sheet(
    job: &mut Job,
    number: u64,
    output: &Path,
    which: Which,
    common: &Common,
) -> Result<Vec<PathBuf>, Stop> {
    write_pages(
        output,
        &job.sheet_files(number, which, form_of(output)?, common.units.into())?,
    )
}

/// Writes the sheet of a record, or of what was looked at and not recorded.
pub fn write_looked(
    job: &mut Job,
    recorded: Option<u64>,
    entry: &Entry,
    output: &Path,
    common: &Common,
) -> Result<Vec<PathBuf>, Stop> {
    match recorded {
        Some(seq) => write_sheet(job, seq, output, Which::Sheet, common),
        None => {
            let form = form_of(output)?;
            let pages = job.preview_files(entry, form, common.units.into())?;
            write_pages(output, &pages)
        }
    }
}

/// What was measured is never written over, under whatever name.
pub fn not_an_input(output: Option<&Path>, inputs: &[&Path]) -> Result<(), Fault> {
    let real = |path: &Path| path.canonicalize().ok();
    let Some(output) = output else { return Ok(()) };
    let there = real(output);
    if there.is_some() && inputs.iter().any(|input| real(input) == there) {
        return Err(Fault::new(
            "F068",
            output.display().to_string(),
            "an output that is one of the inputs",
            "another file",
            "choose another name; nothing was written",
        ));
    }
    Ok(())
}

/// Writes pages, a file each: `sheet.png`, `sheet-2.png`.
pub fn write_pages(output: &Path, pages: &[Vec<u8>]) -> Result<Vec<PathBuf>, Stop> {
    let mut files = Vec::new();
    for (page_idx, bytes) in pages.iter().enumerate() {
        let path = page_path(output, page_idx);
        write(&path, bytes)?;
        files.push(path);
    }
    Ok(files)
}

/// `horizontal,vertical` in mm as typed, where it was.
pub fn sd_pair(at: &str, text: &Option<String>) -> Result<Option<SdPair>, Fault> {
    let Some(text) = text else { return Ok(None) };
    let [h, v] = sds_m(at, text)?;
    Ok(Some(SdPair {
        h: Some(h),
        v: Some(v),
    }))
}

/// `horizontal,vertical` in mm as typed, each positive; in metres.
pub fn sds_m(at: &str, text: &str) -> Result<[f64; 2], Fault> {
    const WANT: &str = "two standard uncertainties in mm, above zero: horizontal,vertical";
    let pair: [f64; 2] = numbers(at, text, WANT)?;
    if pair.iter().all(|sd| 0.0 < *sd) {
        Ok(pair.map(|sd| sd / 1000.0))
    } else {
        Err(Fault::new(
            "F062",
            at,
            format!("{text:?}"),
            WANT,
            "leave it out if nobody knows it: it then counts as unknown",
        ))
    }
}
