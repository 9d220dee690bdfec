//! Where a command works: in the job that was named, or in one that nobody keeps.

use super::{machine_and_tool, read};
use crate::Stop;
use crate::args::Tool;
use holdline_steps::job::{Job, stamp_now};
use holdline_steps::views::ToolAsk;
use std::path::{Path, PathBuf};

/// Who takes documents in when nobody keeps a record.
const NOBODY: &str = "not recorded";

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
    /// Opens the job that was named, makes it where it is not there; a scratch job where none was.
    pub fn open(job: Option<&Path>, by: Option<&str>) -> Result<Desk, Stop> {
        let scratch = tempfile::tempdir()?;
        let opened = match job {
            Some(path) if path.exists() => Job::open(path)?,
            Some(path) => Job::create(path)?,
            None => Job::create(&scratch.path().join("check.job"))?,
        };
        Ok(Desk {
            job: opened,
            by: by.unwrap_or(NOBODY).to_owned(),
            kept: job.filter(|_| by.is_some()).map(Path::to_owned),
            _scratch: scratch,
        })
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
