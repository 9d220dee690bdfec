//! `holdline serve`.

use crate::Stop;
use crate::args::{Common, ServeArgs};
use holdline_geom::fault::Faults;
use holdline_steps::exit::Exit;
use holdline_web::{NOT_BUILT, ServeOptions, Workbench, is_built, run_blocking, told_to_stop};
use std::fs;
use std::io::{self, Write};
use std::path::Path;

/// Serves the workbench until Ctrl-C.
pub fn run(args: &ServeArgs, common: &Common) -> Result<Exit, Stop> {
    let options = ServeOptions {
        port: args.port,
        job: args.job.clone(),
        ..ServeOptions::default()
    };
    workbench(options, !args.no_open && is_built(), common)?;
    Ok(Exit::Good)
}

/// Binds, tells the address, opens the browser if wanted, and serves.
pub fn workbench(options: ServeOptions, open_browser: bool, common: &Common) -> Result<(), Faults> {
    let quiet = common.quiet;
    run_blocking(async move {
        let workbench = Workbench::bind(options).await?;
        // The one line that scripts wait for; a reader that has gone does not stop the workbench.
        let _ = writeln!(io::stdout(), "workbench at {}", workbench.address());
        let _ = io::stdout().flush();
        if !is_built() {
            eprint!("{NOT_BUILT}");
        } else if !quiet {
            eprintln!(
                "open it on this computer only; Ctrl-C ends it, and nothing that was saved is lost"
            );
        }
        // The folder lives as long as the server: the browser may be slow to start.
        let page = if open_browser {
            way_in(workbench.address()).ok()
        } else {
            None
        };
        if let Some(page) = &page
            && open::that_detached(page.path().join("holdline.html")).is_err()
        {
            eprintln!("no browser could be opened; open the address above by hand");
        }
        workbench.run(told_to_stop()).await
    })
}

/// A page in a folder of our own that leads to the address.
///
/// The address carries the token, and a command line can be read by every user of the computer:
/// so the browser is given the
/// name of a file that only we may read.
fn way_in(address: &str) -> io::Result<tempfile::TempDir> {
    let folder = tempfile::Builder::new().prefix("holdline-").tempdir()?;
    let page = format!(
        "<!doctype html><meta charset=\"utf-8\"><meta name=\"referrer\" content=\"no-referrer\">\
         <title>holdline</title><meta http-equiv=\"refresh\" content=\"0; url={address}\">\
         <p><a href=\"{address}\">Open the workbench</a></p>\n"
    );
    let path = folder.path().join("holdline.html");
    fs::write(&path, page)?;
    private(&path)?;
    Ok(folder)
}

/// Nobody else may read it; the folder is ours alone already.
#[cfg(unix)]
fn private(path: &Path) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(path, fs::Permissions::from_mode(0o600))
}

/// The folder is the user's own.
#[cfg(not(unix))]
fn private(_: &Path) -> io::Result<()> {
    Ok(())
}
