//! `holdline demo`.

use super::serve::workbench;
use crate::Stop;
use crate::args::{Common, DemoArgs};
use crate::out;
use holdline_geom::fault::Fault;
use holdline_steps::demo::{DemoStep, make_demo};
use holdline_steps::exit::Exit;
use holdline_web::{ServeOptions, is_built};
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Makes the demo job, tells every step, and opens the workbench on it.
pub fn run(args: &DemoArgs, common: &Common) -> Result<Exit, Stop> {
    fs::create_dir_all(&args.folder).map_err(|error| {
        Fault::new(
            "F061",
            args.folder.display().to_string(),
            format!("a folder that cannot be made: {error}"),
            "a place that may be written",
            "choose another place with --folder",
        )
    })?;
    let path = free_path(&args.folder);
    let mut told = |step: &DemoStep| {
        if !common.json && !common.quiet {
            let _ = writeln!(io::stdout(), "{}/{}  {}", step.number, step.of, step.text);
        }
    };
    let view = make_demo(&path, &mut told)?;
    if common.json {
        out::json(&view)?;
    } else {
        let mut to = io::stdout().lock();
        for file in &view.files {
            writeln!(to, "wrote {file}")?;
        }
        writeln!(to, "job   {}", view.path)?;
        writeln!(
            to,
            "Everything in the demo is invented; its tolerances are no advice for a job."
        )?;
    }
    if !args.no_serve {
        let options = ServeOptions {
            port: args.port,
            job: Some(path),
            demo_dir: Some(args.folder.clone()),
            ..ServeOptions::default()
        };
        workbench(options, !args.no_open && is_built(), common)?;
    }
    Ok(if view.holds { Exit::Good } else { Exit::No })
}

/// A job file that is not there yet: nothing is ever written over.
fn free_path(folder: &Path) -> PathBuf {
    let named = |n: u32| {
        let name = if n == 1 {
            "demo.holdline".to_owned()
        } else {
            format!("demo-{n}.holdline")
        };
        folder.join(name)
    };
    (1..)
        .map(named)
        .find(|path| !path.exists())
        .unwrap_or_else(|| named(1))
}
