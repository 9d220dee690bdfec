//! Running one step of a chore: its name, its time, and what to do when it fails.

use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use crate::tree;

/// So many lines of a failed step are shown; the rest is in its log.
const TAIL: usize = 60;

/// A sign of life after so long without a word.
const QUIET: Duration = Duration::from_secs(60);

/// A command that is part of a chore.
pub struct Step {
    /// What the person reads.
    pub name: &'static str,
    /// What to do when it fails.
    pub fix: &'static str,
    /// What runs; several run one after the other until one fails.
    pub commands: Vec<Command>,
}

/// How a step went.
pub struct Outcome {
    /// Whether every command gave 0.
    pub good: bool,
    /// What it printed.
    pub log: String,
}

/// Runs the step, quietly when it goes well.
///
/// Both streams go to a log under the target directory, whose tail is shown on failure.
pub fn run(step: Step) -> Outcome {
    let began = Instant::now();
    print!("  {:<34}", step.name);
    let _ = std::io::stdout().flush();
    let path = log_path(step.name);
    let mut n_signs = 0;
    let good = match open_log(&path) {
        Ok(log) => {
            let mut commands = step.commands.into_iter();
            commands.all(|command| quietly(command, &log, &path, &mut n_signs))
        }
        Err(why) => {
            println!("cannot write {}: {why}", path.display());
            false
        }
    };
    let log = read_lossy(&path);
    if n_signs > 0 {
        print!("\n  {:<34}", step.name);
    }
    println!(
        "{} {}",
        if good { "ok    " } else { "FAILED" },
        clock(began.elapsed())
    );
    if !good {
        show_failure(step.name, step.fix, &log, &path);
    }
    Outcome { good, log }
}

/// Runs one command with the person's own terminal; used where its output is the point.
pub fn openly(mut command: Command) -> bool {
    match command.status() {
        Ok(status) => status.success(),
        Err(why) => {
            eprintln!("cannot start {}: {why}", words(&command));
            false
        }
    }
}

/// A step that is a function of ours: empty when it went well, else what is wrong.
pub fn own(name: &'static str, fix: &'static str, step: impl FnOnce() -> Vec<String>) -> bool {
    let began = Instant::now();
    print!("  {name:<34}");
    let _ = std::io::stdout().flush();
    let wrong = step();
    let word = if wrong.is_empty() { "ok    " } else { "FAILED" };
    println!("{word} {}", clock(began.elapsed()));
    for line in &wrong {
        println!("      {line}");
    }
    if !wrong.is_empty() {
        println!("      do   {fix}");
    }
    wrong.is_empty()
}

/// A cargo command at the top of the project.
pub fn cargo(words: &[&str]) -> Command {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let mut command = Command::new(cargo);
    command.args(words).current_dir(tree::root());
    command
}

/// Minutes and seconds, as on a watch.
pub fn clock(time: Duration) -> String {
    let seconds = time.as_secs();
    if seconds >= 60 {
        format!("{} min {:02} s", seconds / 60, seconds % 60)
    } else {
        format!("{:.1} s", time.as_secs_f64())
    }
}

fn quietly(mut command: Command, log: &File, path: &Path, n_signs: &mut u32) -> bool {
    let (Ok(out), Ok(err)) = (log.try_clone(), log.try_clone()) else {
        return false;
    };
    command
        .stdin(Stdio::null())
        .stdout(Stdio::from(out))
        .stderr(Stdio::from(err));
    match command.spawn() {
        Ok(child) => wait(child, path, n_signs),
        Err(why) => {
            let mut log = log;
            let _ = writeln!(log, "cannot start {}: {why}", words(&command));
            false
        }
    }
}

/// Waits for the child; once a minute gives a sign that it still works, and counts it.
fn wait(mut child: Child, path: &Path, n_signs: &mut u32) -> bool {
    let mut spoke = Instant::now();
    let began = Instant::now();
    loop {
        match child.try_wait() {
            Ok(Some(status)) => return status.success(),
            Ok(None) => {}
            Err(_) => return false,
        }
        if spoke.elapsed() >= QUIET {
            spoke = Instant::now();
            *n_signs += 1;
            let log = read_lossy(path);
            let last: String = log.lines().last().unwrap_or("").chars().take(70).collect();
            print!(
                "\n      at it for {}: {}",
                clock(began.elapsed()),
                last.trim()
            );
            let _ = std::io::stdout().flush();
        }
        std::thread::sleep(Duration::from_millis(50));
    }
}

fn log_path(name: &str) -> PathBuf {
    let name: String = name
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
        .collect();
    tree::target().join("x").join(format!("{name}.log"))
}

fn open_log(path: &Path) -> std::io::Result<File> {
    if let Some(dir) = path.parent() {
        std::fs::create_dir_all(dir)?;
    }
    // Appending, so that two commands and two streams never write over each other.
    File::create(path)?;
    File::options().append(true).open(path)
}

fn read_lossy(path: &Path) -> String {
    String::from_utf8_lossy(&std::fs::read(path).unwrap_or_default()).into_owned()
}

fn show_failure(name: &str, fix: &str, log: &str, path: &Path) {
    let lines: Vec<&str> = log.lines().collect();
    for line in &lines[lines.len().saturating_sub(TAIL)..] {
        println!("      | {line}");
    }
    println!("      what {name}");
    println!("      do   {fix}");
    println!("      all  {}", path.display());
}

fn words(command: &Command) -> String {
    let mut all = command.get_program().to_string_lossy().into_owned();
    for word in command.get_args() {
        all.push(' ');
        all.push_str(&word.to_string_lossy());
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_watch_shows_minutes_and_seconds() {
        assert_eq!(clock(Duration::from_millis(1240)), "1.2 s");
        assert_eq!(clock(Duration::from_secs(61)), "1 min 01 s");
    }

    #[test]
    fn a_command_that_is_not_there_is_a_failure() {
        let step = Step {
            name: "test of a missing command",
            fix: "nothing",
            commands: vec![Command::new("no-such-command-here")],
        };
        let outcome = run(step);
        assert!(!outcome.good);
        assert!(outcome.log.contains("cannot start no-such-command-here"));
    }

    #[test]
    fn a_later_command_does_not_hide_an_earlier_failure() {
        let step = Step {
            name: "test of a failing command",
            fix: "nothing",
            commands: vec![cargo(&["no-such-verb"]), cargo(&["--version"])],
        };
        assert!(!run(step).good);
    }
}
