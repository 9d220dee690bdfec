#![doc = include_str!("../README.md")]

mod args;
mod commands;
mod out;

use args::{Cli, Command};
use clap::{CommandFactory, Parser};
use holdline_geom::fault::{Fault, Faults};
use holdline_steps::exit::Exit;
use std::io;
use std::process::ExitCode;

/// What stops a command: faults in what was given, or an output that cannot be written.
#[derive(Debug)]
pub enum Stop {
    /// Faults, all at once.
    Faults(Faults),
    /// Standard output or a file could not be written.
    Output(io::Error),
}

impl From<Faults> for Stop {
    fn from(faults: Faults) -> Stop {
        Stop::Faults(faults)
    }
}

impl From<Fault> for Stop {
    fn from(fault: Fault) -> Stop {
        Stop::Faults(fault.into())
    }
}

impl From<io::Error> for Stop {
    fn from(error: io::Error) -> Stop {
        Stop::Output(error)
    }
}

fn main() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => {
            let _ = error.print(); // nothing is left to say if even that cannot be printed
            return ExitCode::from(if error.use_stderr() {
                Exit::BadInput.code()
            } else {
                Exit::Good.code()
            });
        }
    };
    let as_json = cli.common.json;
    let end = match run(cli) {
        Ok(exit) => exit,
        Err(Stop::Faults(faults)) => {
            let _ = out::faults(&faults, as_json);
            Exit::of_faults(&faults)
        }
        // Whoever read our output has had enough, as `head` does: that is no failure.
        Err(Stop::Output(error)) if error.kind() == io::ErrorKind::BrokenPipe => Exit::Good,
        Err(Stop::Output(error)) => {
            eprintln!("cannot write: {error}; free some space or choose another place");
            Exit::BadInput
        }
    };
    ExitCode::from(end.code())
}

fn run(cli: Cli) -> Result<Exit, Stop> {
    let common = &cli.common;
    match cli.command {
        Command::Machine(machine) => commands::machine::run(machine, common),
        Command::Tooth(tooth) => commands::tooth::run(&tooth, common),
        Command::Calibrate(calibrate) => commands::calibrate::run(calibrate, common),
        Command::Verify(verify) => commands::verify::run(&verify, common),
        Command::Budget(budget) => commands::budget::run(&budget, common),
        Command::Record(record) => commands::record::run(record, common),
        Command::Serve(serve) => commands::serve::run(&serve, common),
        Command::Demo(demo) => commands::demo::run(&demo, common),
        Command::Explain { code } => commands::explain::run(code.as_deref(), common),
        Command::Completions { shell } => {
            clap_complete::generate(shell, &mut Cli::command(), "holdline", &mut io::stdout());
            Ok(Exit::Good)
        }
        Command::Man { folder } => {
            clap_mangen::generate_to(Cli::command(), folder)?;
            Ok(Exit::Good)
        }
    }
}
