//! Broken input for every reader.
//!
//! A target is one function over bytes that must never panic.
//! Under cargo-fuzz it is driven by libFuzzer; on a stable compiler by [`drive`]: seeds, mutations, a clock.
//! `cargo x fuzz TARGET SECONDS` picks whichever is there.

mod mutate;
mod random;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use random::Random;

#[cfg(fuzzing)]
pub use libfuzzer_sys;

/// An input that takes longer than this is a find: a reader must not be made to hang.
const TOO_SLOW: Duration = Duration::from_secs(5);

/// Makes the main of a target from its function, and the files of the project that it starts from.
#[macro_export]
macro_rules! target {
    ($function:path, seeds: $seeds:expr) => {
        #[cfg(fuzzing)]
        $crate::libfuzzer_sys::fuzz_target!(|bytes: &[u8]| $function(bytes));

        #[cfg(not(fuzzing))]
        fn main() -> std::process::ExitCode {
            $crate::drive(env!("CARGO_BIN_NAME"), $seeds, $function)
        }
    };
}

/// Runs a target from the command line: `TARGET SECONDS [SEED]`, or `TARGET FILE` for one input.
pub fn drive(name: &str, seeds: &[&str], function: fn(&[u8])) -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let first = words.first().map_or("10", String::as_str);
    let Ok(seconds) = first.parse::<u64>() else {
        return one_file(name, Path::new(first), function);
    };
    let seed = match words.get(1).map(|word| word.parse::<u64>()) {
        Some(Ok(seed)) => seed,
        Some(Err(_)) => {
            eprintln!("{name}: the seed is a whole number");
            return ExitCode::FAILURE;
        }
        None => clock_seed(),
    };
    println!("{name}: {seconds} s, seed {seed}");
    let corpus = corpus(name, seeds);
    if corpus.len() < seeds.len() {
        eprintln!("{name}: a seed file is missing; look at the list in its target");
        return ExitCode::FAILURE;
    }
    match search(&corpus, seed, Duration::from_secs(seconds), function) {
        Ok(runs) => {
            println!("{name}: {runs} inputs, nothing found");
            ExitCode::SUCCESS
        }
        Err(find) => {
            let path = keep(name, seed, &find.input);
            println!(
                "{name}: {} after {} inputs, seed {seed}",
                find.what, find.runs
            );
            println!(
                "  kept in {}; make a unit test of it with its number",
                path.display()
            );
            ExitCode::FAILURE
        }
    }
}

/// Something found.
struct Find {
    what: &'static str,
    runs: u64,
    input: Vec<u8>,
}

/// Every seed as it is, then mutations until the time is over.
fn search(corpus: &[Vec<u8>], seed: u64, time: Duration, function: fn(&[u8])) -> Result<u64, Find> {
    let began = Instant::now();
    let mut random = Random::new(seed);
    let mut runs = 0;
    while runs < corpus.len() as u64 || began.elapsed() < time {
        let input = match corpus.get(runs as usize) {
            Some(input) => input.clone(),
            None => mutate::mutated(corpus, &mut random),
        };
        runs += 1;
        let start = Instant::now();
        let panicked = catch_unwind(AssertUnwindSafe(|| function(&input))).is_err();
        let what = if panicked {
            "panic"
        } else if start.elapsed() > TOO_SLOW {
            "too slow"
        } else {
            continue;
        };
        return Err(Find { what, runs, input });
    }
    Ok(runs)
}

fn one_file(name: &str, path: &Path, function: fn(&[u8])) -> ExitCode {
    match std::fs::read(path) {
        Ok(bytes) => {
            function(&bytes);
            println!("{name}: {} passed", path.display());
            ExitCode::SUCCESS
        }
        Err(why) => {
            eprintln!("{name}: {}: {why}", path.display());
            ExitCode::FAILURE
        }
    }
}

/// Files of the project that are seeds, what cargo-fuzz kept, and an empty input.
fn corpus(name: &str, seeds: &[&str]) -> Vec<Vec<u8>> {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let project = here.parent().unwrap_or(here);
    let mut corpus: Vec<Vec<u8>> = seeds
        .iter()
        .filter_map(|seed| std::fs::read(project.join(seed)).ok())
        .collect();
    if corpus.len() == seeds.len() {
        let kept = std::fs::read_dir(here.join("corpus").join(name));
        let mut paths: Vec<PathBuf> = kept
            .into_iter()
            .flatten()
            .flatten()
            .map(|e| e.path())
            .collect();
        paths.sort();
        corpus.extend(paths.iter().filter_map(|path| std::fs::read(path).ok()));
        corpus.push(Vec::new());
    }
    corpus
}

fn keep(name: &str, seed: u64, input: &[u8]) -> PathBuf {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("artifacts")
        .join(name);
    let path = dir.join(format!("seed-{seed}"));
    let kept = std::fs::create_dir_all(&dir).and_then(|()| std::fs::write(&path, input));
    if let Err(why) = kept {
        eprintln!("{name}: cannot keep the input: {why}");
    }
    path
}

fn clock_seed() -> u64 {
    let since = SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .unwrap_or_default();
    since.as_nanos() as u64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn breaks_on_a_quote(bytes: &[u8]) {
        assert!(!bytes.contains(&b'"'), "a quote");
    }

    #[test]
    fn a_planted_fault_is_found_and_repeats_with_its_seed() {
        let corpus = [b"name = plain".to_vec(), Vec::new()];
        let find = |seed| search(&corpus, seed, Duration::from_secs(20), breaks_on_a_quote);
        let (first, again) = (find(7).unwrap_err(), find(7).unwrap_err());
        assert_eq!(first.what, "panic");
        assert_eq!((first.runs, first.input), (again.runs, again.input));
    }

    #[test]
    fn what_never_breaks_is_not_a_find() {
        let runs = search(&[b"x".to_vec()], 1, Duration::from_millis(20), |_| {});
        assert!(runs.is_ok_and(|runs| runs > 1));
    }
}
