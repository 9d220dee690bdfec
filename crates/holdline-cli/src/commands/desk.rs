//! Where a command works: in the job that was named, or in one that nobody keeps.

use super::{machine_and_tool, read};
use crate::Stop;
use crate::args::{InJob, Tool};
use holdline_geom::fault::Fault;
use holdline_steps::job::nearest_name;
use holdline_steps::job::{Job, stamp_now};
use holdline_steps::views::ToolAsk;
use std::path::{Path, PathBuf};

/// Who takes documents in when nobody keeps a record.
const NOBODY: &str = "not recorded";

/// A job file of nearly the same name in the same folder.
fn near_name(path: &Path) -> Option<String> {
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        Some(_) | None => Path::new("."),
    };
    let wanted = path.file_name()?.to_string_lossy().into_owned();
    let files = std::fs::read_dir(folder).ok()?.flatten();
    let jobs: Vec<String> = files
        .filter(|entry| Job::is_one(&entry.path()))
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect();
    nearest_name(&wanted, &jobs)
}

fn no_such_job(path: &Path, near: &str) -> Fault {
    Fault::new(
        "F069",
        path.display().to_string(),
        format!("no such job; {near} lies beside it"),
        "the job's name as it is, or --new-job",
        format!("write {near}, or add --new-job if this is to be another job"),
    )
}

/// A job to work in. What nobody keeps still goes the same way as what is kept.
pub struct Desk {
    /// The job.
    pub job: Job,
    /// Who works.
    pub by: String,
    kept: Option<PathBuf>,
    _scratch: tempfile::TempDir,
}

impl Desk {
    /// Opens the job that was named; one that is not there is made, and that is said. A scratch job where none was
    /// named.
    ///
    /// # Errors
    ///
    /// `F069` where a job of nearly the same name lies in that folder: a slip of the finger must not begin a second
    /// chain of records.
    pub fn open(keep: &InJob) -> Result<Desk, Stop> {
        let scratch = tempfile::tempdir()?;
        let job = keep.job.as_deref();
        let opened = match job {
            Some(path) if path.exists() => Job::open(path)?,
            Some(path) => {
                if let (false, Some(near)) = (keep.new_job, near_name(path)) {
                    return Err(no_such_job(path, &near).into());
                }
                let made = Job::create(path)?;
                eprintln!("a new job was made: {}", path.display());
                made
            }
            None => Job::create(&scratch.path().join("check.job"))?,
        };
        Ok(Desk {
            job: opened,
            by: keep.by.as_deref().unwrap_or(NOBODY).to_owned(),
            kept: job.filter(|_| keep.by.is_some()).map(Path::to_owned),
            _scratch: scratch,
        })
    }

    /// A desk that nobody keeps anything of.
    pub fn scratch() -> Result<Desk, Stop> {
        Desk::open(&InJob::default())
    }

    /// The job that a record is kept in; none where none is.
    pub fn kept(&self) -> Option<&Path> {
        self.kept.as_deref()
    }

    /// Takes a file into the job; one that is there already, byte for byte, stays as it is. Gives its hash.
    pub fn take(&mut self, path: &Path) -> Result<String, Stop> {
        let name = path.file_name().map_or_else(
            || path.display().to_string(),
            |n| n.to_string_lossy().into_owned(),
        );
        let bytes = read(path)?;
        let stamp = stamp_now(&self.by)?;
        Ok(self.job.import(&name, &bytes, &stamp)?.hash)
    }

    /// The machine, its calibration and the tool that the person named.
    pub fn tool(&mut self, typed: &Tool) -> Result<ToolAsk, Stop> {
        let chosen = machine_and_tool(typed)?;
        let machine = self.take(&typed.machine)?;
        let calibration = match &typed.calibration {
            Some(path) => Some(self.take(path)?),
            None => None,
        };
        Ok(ToolAsk {
            machine,
            calibration,
            coupler: chosen.choice.coupler,
            tilt: chosen.choice.tilt,
            bucket: chosen.choice.bucket,
            tooth: chosen.choice.tooth,
        })
    }

    /// What to say of the record at the end.
    pub fn told(&self, recorded: Option<u64>) -> String {
        match (recorded, &self.kept) {
            (Some(seq), Some(job)) => format!("record {seq} in {}; not signed", job.display()),
            _ => "no record was made: give --job and --by to keep one".to_owned(),
        }
    }
}
