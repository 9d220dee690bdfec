//! Every single fault fitted, those with one signature put together, the best first.

use super::fit::{Case, Fitted};
use super::hypothesis::{Hypothesis, Kind};
use super::scale::on_one_scale;
use super::scene::{Differences, Scene};
use super::simulate::Ray;
use super::told::{Estimate, Explanation, NotTried, Suspect};
use super::whiten::{Whitener, dot, likeness, orthonormal};
use holdline_geom::measured::Measured;
use nalgebra::DMatrix;

/// A hypothesis that these shots can see, with what it does to them.
#[derive(Debug, Clone)]
pub(super) struct Tried {
    pub hypothesis: Hypothesis,
    /// Fitted to the shots.
    pub fitted: Fitted,
    /// With nothing moved: for the simulation and for comparing signatures.
    pub ray: Ray,
    /// The signature's directions.
    pub basis: Vec<Vec<f64>>,
    /// Minimal detectable size along each direction, in its unit.
    pub detectable: Vec<f64>,
}

impl Tried {
    pub fn n_parameters(&self) -> usize {
        self.hypothesis.n_parameters()
    }

    pub fn aic(&self) -> f64 {
        self.fitted.chi2 + 2.0 * self.n_parameters() as f64
    }
}

/// Noncentrality that a test at 0.001, two-sided, sees with power 0.80.
pub(super) const NONCENTRALITY: f64 = 17.075;

/// A fault that puts less than one sd of everything into the shots is not seen by them.
const SEEN_AT_LEAST: f64 = 1.0;

/// Tries every hypothesis; what the shots cannot see, or the machine cannot be, is noted or left out.
pub(super) fn tried(
    scene: &Scene,
    white: &Whitener,
    hypotheses: Vec<Hypothesis>,
    y: &[f64],
    not_tried: &mut Vec<NotTried>,
) -> Vec<Tried> {
    let mut out = Vec::new();
    for hypothesis in hypotheses {
        let case = Case {
            changes: hypothesis.changes(),
            directions: hypothesis.directions(),
        };
        let size_0 = vec![0.0; case.directions.len()];
        // What cannot be computed with that fault put right is not this fault.
        let Ok(start) = scene.differences(&case.changes, &case.directions, &size_0) else {
            continue;
        };
        let seen = if hypothesis.is_sized() {
            with_size(scene, white, &case, &start)
        } else {
            without_size(white, y, start, hypothesis.n_parameters())
        };
        let (fitted, ray, basis, detectable) = match seen {
            Ok(seen) => seen,
            Err(size) => {
                note_unseen(&hypothesis, size, not_tried);
                continue;
            }
        };
        out.push(Tried {
            hypothesis,
            fitted,
            ray,
            basis,
            detectable,
        });
    }
    out
}

/// Fitted, its ray, its directions, what is detectable.
type SeenAs = (Fitted, Ray, Vec<Vec<f64>>, Vec<f64>);

/// A fault with sizes; refused when the shots do not see all its directions.
fn with_size(
    scene: &Scene,
    white: &Whitener,
    case: &Case,
    start: &Differences,
) -> Result<SeenAs, f64> {
    let slopes: Vec<Vec<f64>> = start.slopes.iter().map(|s| white.white(s)).collect();
    let basis = orthonormal(&slopes);
    if basis.len() < slopes.len() {
        return Err(0.0);
    }
    let fitted = case.fit(scene, white).ok().flatten().ok_or(0.0)?;
    let detectable = smallest_seen(&slopes);
    Ok((fitted, Ray::Sized(basis.clone()), basis, detectable))
}

/// A fault that is or is not; refused, with how much it puts in, when that is too little.
fn without_size(
    white: &Whitener,
    y: &[f64],
    start: Differences,
    n_parameters: usize,
) -> Result<SeenAs, f64> {
    let left = white.white(&start.y_m);
    let d: Vec<f64> = y.iter().zip(&left).map(|(y, left)| y - left).collect();
    let size = dot(&d, &d).sqrt();
    let chi2 = dot(&left, &left);
    if !(SEEN_AT_LEAST < size && chi2.is_finite()) {
        return Err(size);
    }
    let fitted = Fitted {
        sizes: Vec::new(),
        covariance: DMatrix::zeros(0, 0),
        chi2,
        left_m: start.y_m,
        slopes: Vec::new(),
    };
    let basis = orthonormal(std::slice::from_ref(&d));
    Ok((fitted, Ray::Given(d, n_parameters), basis, Vec::new()))
}

/// Slips are too many to list one by one.
fn note_unseen(hypothesis: &Hypothesis, size: f64, not_tried: &mut Vec<NotTried>) {
    if let Kind::Given { picked: false, .. } = &hypothesis.kind {
        not_tried.push(NotTried {
            words: hypothesis.words.clone(),
            needs: format!(
                "it would put {size:.1} sd into these shots: too little to be seen; shots elsewhere, or more of them"
            ),
        });
    }
}

/// `√(λ0 / hᵀh)` of each direction by itself.
fn smallest_seen(slopes: &[Vec<f64>]) -> Vec<f64> {
    slopes
        .iter()
        .map(|s| (NONCENTRALITY / dot(s, s)).sqrt())
        .collect()
}

/// Signatures this much alike are one suspect with several explanations.
const SAME: f64 = 0.995;

/// Puts together what has one signature. Gives groups of indices, best first within and among them.
pub(super) fn grouped(tried: &[Tried]) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (idx, one) in tried.iter().enumerate() {
        let same = |group: &Vec<usize>| {
            group.iter().any(|other| {
                let other = &tried[*other];
                other.hypothesis.group == one.hypothesis.group
                    || (other.ray.n_parameters() == 1
                        && one.ray.n_parameters() == 1
                        && other.hypothesis.is_sized()
                        && one.hypothesis.is_sized()
                        && SAME <= likeness(&other.basis, &one.basis))
            })
        };
        let (joined, apart): (Vec<_>, Vec<_>) = groups.into_iter().partition(same);
        groups = apart;
        let mut group: Vec<usize> = joined.concat();
        group.push(idx);
        groups.push(group);
    }
    // In the order of the list where equal: a drift before the slips that would explain it as well.
    let key = |idx: &usize| (tried[*idx].aic() * 1e6).round() / 1e6;
    for group in &mut groups {
        group.sort_by(|a, b| key(a).total_cmp(&key(b)).then(a.cmp(b)));
    }
    groups.sort_by(|a, b| key(&a[0]).total_cmp(&key(&b[0])).then(a[0].cmp(&b[0])));
    groups
}

/// The signature that stands for a group: of its first member with a size, else of its best.
pub(super) fn signature(tried: &[Tried], group: &[usize]) -> usize {
    let sized = group
        .iter()
        .copied()
        .filter(|idx| tried[*idx].hypothesis.is_sized())
        .min();
    sized.unwrap_or(group[0])
}

/// An explanation with its figures. `by_rule` is what the rule of this diagnosis sees over what the test at 0.001 does.
pub(super) fn explanation(one: &Tried, by_rule: f64) -> Explanation {
    let hypothesis = &one.hypothesis;
    let (says, estimates, beyond_usual) = match &hypothesis.kind {
        Kind::Given { says, .. } => (says.clone(), Vec::new(), false),
        Kind::Sized(sized) => {
            let sd = |idx: usize| one.fitted.covariance[(idx, idx)].sqrt();
            let says: Vec<String> = sized
                .iter()
                .enumerate()
                .map(|(idx, s)| s.says(one.fitted.sizes[idx], sd(idx)))
                .collect();
            let estimates = sized.iter().enumerate().map(|(idx, s)| Estimate {
                name: s.name.clone(),
                size: Measured::with_sd(one.fitted.sizes[idx], sd(idx)),
                unit: s.unit,
                detectable: one.detectable[idx],
                detectable_by_rule: one.detectable[idx] * by_rule,
            });
            let beyond = sized
                .iter()
                .zip(&one.fitted.sizes)
                .any(|(s, size)| s.usual < size.abs());
            let says = if hypothesis.id.starts_with("shot[") {
                format!("{}: {}", hypothesis.words, says.join(", "))
            } else {
                says.join(", ")
            };
            (says, estimates.collect(), beyond)
        }
    };
    Explanation {
        id: hypothesis.id.clone(),
        words: hypothesis.words.clone(),
        says,
        chi2_left: one.fitted.chi2,
        n_parameters: one.n_parameters(),
        estimates,
        beyond_usual,
    }
}

/// What is within this much of the least AIC is in the set; of one suspect's slips, those are told.
pub(super) const WITHIN: f64 = 4.0;

/// A suspect, not yet in or out of the set.
pub(super) fn suspect(
    scene: &Scene,
    tried: &[Tried],
    group: &[usize],
    y_m: &[f64],
    chi2_nothing: f64,
    by_rule: f64,
) -> Suspect {
    let best = &tried[group[0]];
    let lead = signature(tried, group);
    let told = group
        .iter()
        .filter(|idx| {
            tried[**idx].hypothesis.is_sized() || tried[**idx].aic() - best.aic() < WITHIN
        })
        .map(|idx| explanation(&tried[*idx], by_rule))
        .collect();
    let effect: Vec<f64> = y_m
        .iter()
        .zip(&best.fitted.left_m)
        .map(|(y, left)| y - left)
        .collect();
    Suspect {
        id: tried[lead].hypothesis.id.clone(),
        words: best.hypothesis.words.clone(),
        look_at: best.hypothesis.look_at.clone(),
        chi2_left: best.fitted.chi2,
        n_parameters: best.n_parameters(),
        aic: best.aic(),
        gain: gain_of(best, chi2_nothing),
        in_set: false,
        weight: None,
        explanations: told,
        effect_m: scene.by_shot(&effect),
    }
}

/// Gain over nothing wrong on the scale of one parameter; a picked slip's is taken as it is.
pub(super) fn gain_of(one: &Tried, chi2_nothing: f64) -> f64 {
    let k = if one.hypothesis.is_sized() {
        one.n_parameters()
    } else {
        0
    };
    on_one_scale(k, chi2_nothing - one.fitted.chi2)
}
