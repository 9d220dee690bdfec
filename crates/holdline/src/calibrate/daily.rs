//! The morning check: one bench or nail, one reading, and what makes a full re-check due.

use super::check_shots::Finding;
use super::decision::Decision;
use holdline_geom::measured::Measured;

/// One morning's entry.
#[derive(Debug, Clone, PartialEq)]
pub struct DailyEntry {
    /// Date, ISO 8601.
    pub on: String,
    /// The bench or nail.
    pub bench: String,
    /// Bucket, as chosen on the machine.
    pub bucket: String,
    /// Tooth point, as chosen on the machine.
    pub tooth: String,
    /// Height of the tooth on the bench as the display shows it, m.
    pub shown_m: Measured,
    /// Known height of the bench, m.
    pub known_m: Measured,
    /// Most that the job allows between them, m; none was not stated.
    pub allowed_m: Option<f64>,
    /// Wear of the tooth since its point was measured, m; none was not looked at.
    pub wear_m: Option<f64>,
    /// Limits tried this morning.
    pub limits: LimitsTried,
    /// What happened since the last entry.
    pub changes: Vec<Change>,
    /// Initials of the person.
    pub initials: String,
}

/// Limits, each touched at low speed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LimitsTried {
    /// All held.
    Held,
    /// One did not hold.
    Failed,
    /// Not tried.
    NotTried,
    /// None are set on this machine today.
    NoneSet,
}

/// What makes a full re-check due.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Change {
    /// Tooth, bucket or coupler changed.
    Tool,
    /// Something was welded or bent.
    Weld,
    /// A sensor was knocked, taken off or changed.
    Sensor,
    /// Work on tracks or undercarriage.
    Tracks,
    /// First frost.
    Frost,
    /// The site's localization changed.
    Localization,
}

impl Change {
    /// What to print.
    pub fn words(self) -> &'static str {
        match self {
            Change::Tool => "tooth, bucket or coupler changed",
            Change::Weld => "welded or bent",
            Change::Sensor => "a sensor was knocked or changed",
            Change::Tracks => "work on the tracks",
            Change::Frost => "first frost",
            Change::Localization => "the site's localization changed",
        }
    }
}

/// The morning's answer.
#[derive(Debug, Clone, PartialEq)]
pub struct DailyResult {
    /// Shown minus known, m.
    pub difference_m: Measured,
    /// Against what is allowed.
    pub decision: Decision,
    /// Why a full re-check is due; empty: it is not.
    pub recheck_because: Vec<String>,
    /// What to look at; a limit that failed stands first.
    pub findings: Vec<Finding>,
}

/// Judges one morning's entry, with those before it in order of time, and with what earlier mornings left open.
///
/// A re-check that was due stays due until a full check holds: `still_open` carries its reasons on.
///
/// ```text
/// d = shown − known        U = 2 √(u²(shown) + u²(known))        guarded against ± allowed
/// ```
///
/// A full re-check is due after a change, when `d` is not shown to hold or is outside two thirds of what is allowed,
/// when a limit failed, when the tooth has worn by more than a third of what is allowed,
/// or when `d` moved by more than two thirds of it since the entry before on the same bench.
///
/// - Units: m. Triggers: common practice.
///
/// # Caution
///
/// One bench proves one pose. A limit that failed stops work near it until a competent person has found out why.
pub fn judge_morning(
    entry: &DailyEntry,
    before: &[DailyEntry],
    still_open: &[String],
) -> DailyResult {
    let sd = entry
        .shown_m
        .sd
        .zip(entry.known_m.sd)
        .map(|(a, b)| a.hypot(b));
    let difference_m = Measured {
        value: entry.shown_m.value - entry.known_m.value,
        sd,
    };
    let decision = match (entry.allowed_m, sd) {
        (None, _) => {
            Decision::not_shown("no allowed difference was stated: ask for the job's figure")
        }
        (_, None) => {
            Decision::not_shown("no uncertainty was stated for the bench or for the display")
        }
        (Some(allowed), Some(sd)) => {
            Decision::guarded(difference_m.value, 2.0 * sd, [-allowed, allowed])
        }
    };
    let measured_holds = decision.holds();
    let (decision, mut findings) = with_limits(decision, entry.limits);
    let decision = with_wear_and_initials(decision, entry);
    let mut recheck_because: Vec<String> = still_open.to_vec();
    recheck_because.extend(entry.changes.iter().map(|c| c.words().to_owned()));
    let mm = |m: f64| m * 1000.0;
    if let Some(allowed) = entry.allowed_m {
        if !(difference_m.value.abs() <= allowed * 2.0 / 3.0) {
            let d = mm(difference_m.value);
            recheck_because.push(format!(
                "{d:+.1} mm is outside two thirds of {:.0} mm",
                mm(allowed)
            ));
        }
        if let Some(wear) = entry.wear_m
            && !(wear.abs() <= allowed / 3.0)
        {
            recheck_because.push(format!(
                "tooth worn by {:.0} mm: measure the tooth point anew",
                mm(wear)
            ));
        }
        if let Some(last) = before
            .iter()
            .rev()
            .find(|e| e.bench == entry.bench && e.tooth == entry.tooth && e.bucket == entry.bucket)
        {
            let step = difference_m.value - (last.shown_m.value - last.known_m.value);
            if !(step.abs() <= allowed * 2.0 / 3.0) {
                recheck_because.push(format!(
                    "{:+.1} mm since {} on the same bench",
                    mm(step),
                    last.on
                ));
            }
        }
    }
    if !measured_holds {
        recheck_because.push("the tooth on the bench was not shown to hold".to_owned());
    }
    if entry.limits == LimitsTried::Failed {
        recheck_because.push("a limit did not hold when it was tried".to_owned());
    }
    if entry.wear_m.is_none() {
        findings.push(finding("V012", "tooth", "wear was not looked at"));
    }
    if entry.initials.trim().is_empty() {
        findings.push(finding("V013", "initials", "nobody put initials to it"));
    }
    DailyResult {
        difference_m,
        decision,
        recheck_because,
        findings,
    }
}

/// A tooth worn by more than the job allows, or an entry that nobody stands for, does not let the morning pass.
fn with_wear_and_initials(decision: Decision, entry: &DailyEntry) -> Decision {
    let worn = match (entry.wear_m, entry.allowed_m) {
        (Some(wear), Some(allowed)) => !(wear.abs() <= allowed),
        _ => false,
    };
    let decision = if worn {
        Decision::not_shown("the tooth is worn by more than the job allows").and(decision)
    } else {
        decision
    };
    if entry.initials.trim().is_empty() {
        Decision::not_shown("nobody put initials to it").and(decision)
    } else {
        decision
    }
}

/// Limits that failed, or were set and not tried, do not let the morning pass.
fn with_limits(decision: Decision, limits: LimitsTried) -> (Decision, Vec<Finding>) {
    match limits {
        LimitsTried::Held | LimitsTried::NoneSet => (decision, Vec::new()),
        LimitsTried::Failed => (
            Decision::not_shown(
                "STOP: a limit did not hold when tried; no work near it until it is known why",
            )
            .and(decision),
            vec![finding(
                "V010",
                "limits",
                "a limit did not hold when tried: stop work near it and find out why",
            )],
        ),
        LimitsTried::NotTried => (
            Decision::not_shown("the limits were not tried").and(decision),
            vec![finding(
                "V011",
                "limits",
                "not tried: touch each at low speed before work near it",
            )],
        ),
    }
}

fn finding(code: &'static str, at: &str, what: &str) -> Finding {
    Finding {
        code,
        at: at.to_owned(),
        what: what.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(shown_mm: f64) -> DailyEntry {
        DailyEntry {
            on: "2025-12-05".to_owned(),
            bench: "nail 1".to_owned(),
            bucket: "T75".to_owned(),
            tooth: "centre".to_owned(),
            shown_m: Measured::with_sd(24.310 + shown_mm / 1000.0, 0.003),
            known_m: Measured::with_sd(24.310, 0.004),
            allowed_m: Some(0.030),
            wear_m: Some(0.002),
            limits: LimitsTried::Held,
            changes: Vec::new(),
            initials: "AE".to_owned(),
        }
    }

    #[test]
    fn a_good_morning() {
        let result = judge_morning(&entry(8.0), &[], &[]);
        assert!(result.decision.holds());
        assert!(result.recheck_because.is_empty() && result.findings.is_empty());
        assert!((result.difference_m.sd.expect("both stated") - 0.005).abs() < 1e-15); // 3-4-5
    }

    #[test]
    fn the_edges_of_the_rule() {
        assert!(judge_morning(&entry(19.9), &[], &[]).decision.holds()); // 19.9 + 10 inside 30
        assert!(!judge_morning(&entry(20.1), &[], &[]).decision.holds());
        assert!(matches!(
            judge_morning(&entry(40.1), &[], &[]).decision,
            Decision::DoesNotHold { .. }
        ));
        assert_eq!(
            judge_morning(&entry(20.1), &[], &[]).recheck_because.len(),
            2
        );
    }

    #[test]
    fn changes_and_steps_make_a_recheck_due() {
        let mut today = entry(10.0);
        today.changes = vec![Change::Weld, Change::Sensor];
        assert_eq!(judge_morning(&today, &[], &[]).recheck_because.len(), 2);
        let stepped = judge_morning(&entry(12.0), &[entry(-12.0)], &[]);
        assert!(stepped.decision.holds());
        assert_eq!(stepped.recheck_because.len(), 1);
        let mut worn = entry(0.0);
        worn.wear_m = Some(0.015);
        assert_eq!(judge_morning(&worn, &[], &[]).recheck_because.len(), 1);
    }

    #[test]
    fn what_was_due_stays_due() {
        let open = ["since 2025-12-04: welded or bent".to_owned()];
        let result = judge_morning(&entry(0.0), &[], &open);
        assert!(result.decision.holds());
        assert_eq!(result.recheck_because, open);
    }

    #[test]
    fn a_worn_out_tooth_or_no_initials_do_not_pass() {
        let mut today = entry(0.0);
        today.wear_m = Some(0.031);
        assert!(!judge_morning(&today, &[], &[]).decision.holds());
        let mut today = entry(0.0);
        today.initials = " ".to_owned();
        assert!(!judge_morning(&today, &[], &[]).decision.holds());
        // Limits that were not tried are tried next; they make no full re-check due.
        let mut today = entry(0.0);
        today.limits = LimitsTried::NotTried;
        assert!(judge_morning(&today, &[], &[]).recheck_because.is_empty());
    }

    #[test]
    fn limits_must_be_tried_and_hold() {
        for (limits, code) in [
            (LimitsTried::Failed, "V010"),
            (LimitsTried::NotTried, "V011"),
        ] {
            let mut today = entry(0.0);
            today.limits = limits;
            let result = judge_morning(&today, &[], &[]);
            assert!(!result.decision.holds());
            assert_eq!(result.findings[0].code, code);
        }
        let mut today = entry(0.0);
        today.limits = LimitsTried::NoneSet;
        assert!(judge_morning(&today, &[], &[]).decision.holds());
    }

    #[test]
    fn unknown_is_not_shown() {
        let mut today = entry(0.0);
        today.known_m = Measured::without_sd(24.310);
        assert!(matches!(
            judge_morning(&today, &[], &[]).decision,
            Decision::NotShown { .. }
        ));
        let mut today = entry(0.0);
        today.allowed_m = None;
        assert!(matches!(
            judge_morning(&today, &[], &[]).decision,
            Decision::NotShown { .. }
        ));
    }
}
