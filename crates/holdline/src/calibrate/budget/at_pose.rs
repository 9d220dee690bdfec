//! The budget of one pose: covariance, shares, and what would help most.

use super::extras::Parts;
use super::propagate::{NO_SLOPE, Six, along, rows};
use super::terms::{Scatter, SourceUnit};
use super::{Budget, BudgetPose};
use crate::calibrate::chain::{ChainPose, ToothFrame, ToothPlace};
use crate::machine::front::ToolChoice;
use crate::tooth::model::ToothModel;
use holdline_geom::fault::Faults;

/// The budget of one pose.
#[derive(Debug, Clone, PartialEq)]
pub struct PoseBudget {
    /// Where the tooth is; on the site counted from the swing axis at track ground.
    pub tooth: ToothPlace,
    /// Frame of everything below: forward, left, up in `Level`; easting, northing, elevation on the site.
    pub frame: ToothFrame,
    /// The factor of every U.
    pub k: f64,
    /// Covariance of what is stated, m²: a lower bound when something is missing.
    pub known_m2: [[f64; 3]; 3],
    /// Sources that move the tooth and that nobody stated. With any there is no uncertainty.
    pub missing: Vec<String>,
    /// Standard uncertainties along the axes, m; none when something is missing.
    pub sd_m: Option<[f64; 3]>,
    /// U along the axes, m; none when something is missing.
    pub u_m: Option<[f64; 3]>,
    /// Along the normal that was asked for.
    pub normal: Option<Along>,
    /// The bucket's other tooth points in the same pose: the ends of the edge feel the house's roll.
    pub corners: Vec<Corner>,
    /// What each source makes of it; the largest share of the last axis first.
    pub shares: Vec<Share>,
    /// Why the slower way was taken; none where it was not.
    pub slower_because: Option<&'static str>,
}

/// Uncertainty along a direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Along {
    /// The direction, in the frame of the budget.
    pub direction: [f64; 3],
    /// Standard uncertainty of what is stated, m.
    pub known_sd_m: f64,
    /// Standard uncertainty, m; none when something is missing.
    pub sd_m: Option<f64>,
    /// U, m; likewise.
    pub u_m: Option<f64>,
}

/// Another tooth point of the bucket.
#[derive(Debug, Clone, PartialEq)]
pub struct Corner {
    /// `left`, `centre`, `right` or a further name.
    pub name: String,
    /// Where it is.
    pub tooth: ToothPlace,
    /// Standard uncertainties along the axes, m; none when something is missing.
    pub sd_m: Option<[f64; 3]>,
    /// U along the normal that was asked for, m; likewise.
    pub normal_u_m: Option<f64>,
    /// Sources that nobody stated.
    pub missing: Vec<String>,
}

/// What one source, or the axes of one point together, makes of the uncertainty.
#[derive(Debug, Clone, PartialEq)]
pub struct Share {
    /// Its name.
    pub name: String,
    /// Its standard uncertainty, where all its axes have the same.
    pub sd: Option<f64>,
    /// What `sd` counts in.
    pub unit: SourceUnit,
    /// Part of the variance along the three axes; of figures found together the part falls to each by its own
    /// covariance with the sum, and can be negative.
    pub part: [f64; 3],
    /// Part of the variance along the normal.
    pub part_normal: Option<f64>,
    /// What it alone makes at the tooth: standard uncertainty along the axes, m.
    pub effect_m: [f64; 3],
    /// How fast U grows with its standard uncertainty, m per unit, along the axes; per 1 of scale for a group.
    pub u_per_sd: [f64; 3],
    /// How much smaller U would be were its standard uncertainty halved, m, along the axes.
    pub if_halved_m: [f64; 3],
    /// The same along the normal, m.
    pub if_halved_normal_m: Option<f64>,
    /// Found together with others by a calibration.
    pub found_together: bool,
}

/// Slopes of every source at a pose.
pub(super) struct Slopes {
    pub pose: ChainPose,
    pub values: Vec<f64>,
    pub by_term: Vec<[f64; 3]>,
}

impl Budget {
    /// Slopes of every source at a pose, in the frame of the budget.
    pub(super) fn slopes(&self, pose: &BudgetPose) -> Result<Slopes, Faults> {
        let finite = pose.lean.pitch.is_finite() && pose.lean.roll.is_finite();
        if !finite {
            return Err(super::no_pose("a lean that is not a number").into());
        }
        let readings = self.readings(pose)?;
        let values = self.chain.values(&self.model, &readings);
        let solved = self.chain.solve(&values)?;
        let n = self.chain.names().len();
        let mut by_term = vec![[f64::NAN; 3]; self.terms.len()];
        let (listed, extra) = by_term.split_at_mut(n);
        self.chain.slopes(&values, &solved, self.frame, listed)?;
        let parts = Parts::of(self, &values, &solved);
        self.extra_slopes(&parts, &pose.joints, &pose.lean, listed, extra);
        Ok(Slopes {
            pose: solved,
            values,
            by_term,
        })
    }

    pub(super) fn missing_names(&self, slopes: &[[f64; 3]]) -> Vec<String> {
        let mut names: Vec<String> = Vec::new();
        for place in self.mixer.missing(slopes) {
            let name = &self.terms[place].group;
            if !names.contains(name) {
                names.push(name.clone());
            }
        }
        names
    }
}

/// The budget of one pose.
///
/// ```text
/// Σ_t = J Σ_x Jᵀ        U = k √Σ_t,ii        along n: U = k √(nᵀ Σ_t n)
/// ```
///
/// - Frame: `Level` in 2D, `Site` in 3D. Units: m.
/// - Source: JCGM 100:2008 (GUM), 5.2 and 6.2 ([`crate::sources::GUM`]).
/// - Valid where the chain is as good as straight over the uncertainties: [`super::monte_carlo`] says so.
///
/// # Errors
///
/// `B005` no heading in 3D; `B006` a pose that is no pose; faults of the chain where the linkage cannot close.
pub fn at_pose(budget: &Budget, pose: &BudgetPose) -> Result<PoseBudget, Faults> {
    let slopes = budget.slopes(pose)?;
    let sum = budget.mixer.covariance(&slopes.by_term);
    let missing = budget.missing_names(&slopes.by_term);
    let sd = known_sd(&sum);
    let whole = missing.is_empty() && sd.iter().all(|s| s.is_finite());
    let k = budget.k();
    let normal = budget.ask.normal.map(|direction| {
        let known_sd_m = along(&sum, direction).sqrt();
        let sd_m = (whole && known_sd_m.is_finite()).then_some(known_sd_m);
        Along {
            direction,
            known_sd_m,
            sd_m,
            u_m: sd_m.map(|sd| k * sd),
        }
    });
    Ok(PoseBudget {
        tooth: *slopes.pose.tooth(),
        frame: budget.frame,
        k,
        known_m2: rows(&sum),
        sd_m: whole.then_some(sd),
        u_m: whole.then_some(sd.map(|s| k * s)),
        missing,
        normal,
        corners: corners(budget, pose),
        shares: shares(budget, &slopes.by_term, &sum),
        slower_because: budget.slower_because(),
    })
}

fn known_sd(sum: &Six) -> [f64; 3] {
    [sum[0].sqrt(), sum[3].sqrt(), sum[5].sqrt()]
}

/// The bucket's other tooth points. One that cannot be placed is left out: its own fault is the chosen point's.
fn corners(budget: &Budget, pose: &BudgetPose) -> Vec<Corner> {
    let choice = budget.model.choice();
    let Ok(bucket) = budget.model.machine().bucket(&choice.bucket) else {
        return Vec::new();
    };
    let others = bucket.teeth.iter().filter(|t| t.name != choice.tooth);
    others
        .filter_map(|tooth| {
            let choice = ToolChoice {
                tooth: tooth.name.clone(),
                ..choice.clone()
            };
            let model = ToothModel::new(budget.model.machine(), &choice).ok()?;
            let other = Budget::new(&model, &budget.ask).ok()?;
            let slopes = other.slopes(pose).ok()?;
            let sum = other.mixer.covariance(&slopes.by_term);
            let missing = other.missing_names(&slopes.by_term);
            let sd = known_sd(&sum);
            let whole = missing.is_empty() && sd.iter().all(|s| s.is_finite());
            Some(Corner {
                name: tooth.name.clone(),
                tooth: *slopes.pose.tooth(),
                sd_m: whole.then_some(sd),
                normal_u_m: other
                    .ask
                    .normal
                    .filter(|_| whole)
                    .map(|n| other.k() * along(&sum, n).sqrt()),
                missing,
            })
        })
        .collect()
}

/// A group of sources, gathered.
struct Gathered {
    share: Share,
    /// Variance that falls to it, along the axes and the normal.
    falls: [f64; 4],
    /// Variance of it alone, were all others sure.
    own: [f64; 4],
}

/// Shares by source.
///
/// ```text
/// alone           part_i = (J_i u_i)² / Σ
/// found together  part_i = J_i (Q Jᵀ)_i / Σ                       these add up to the block's own part
/// halved          U − k √( Σ − falls + ¼ own )      falls = own + what it shares with others
/// ```
///
/// Halving one figure of those found together keeps its correlations with the others.
fn shares(budget: &Budget, slopes: &[[f64; 3]], sum: &Six) -> Vec<Share> {
    let normal = budget.ask.normal;
    let four = |v: [f64; 3]| {
        let n = normal.unwrap_or([0.0; 3]);
        [v[0], v[1], v[2], v[0] * n[0] + v[1] * n[1] + v[2] * n[2]]
    };
    let total = {
        let [xx, _, _, yy, _, zz] = *sum;
        [xx, yy, zz, normal.map_or(0.0, |n| along(sum, n))]
    };
    let mut groups: Vec<Gathered> = Vec::new();
    let mut add = |place: usize, sd: f64, falls: [f64; 4], own: [f64; 4], together: bool| {
        let term = &budget.terms[place];
        let found = groups
            .iter_mut()
            .find(|g| g.share.name == term.group && g.share.found_together == together);
        match found {
            Some(group) => {
                for k in 0..4 {
                    group.falls[k] += falls[k];
                    group.own[k] += own[k];
                }
                if group.share.sd != Some(sd) {
                    group.share.sd = None;
                }
            }
            None => groups.push(Gathered {
                share: Share {
                    name: term.group.clone(),
                    sd: Some(sd),
                    unit: term.unit,
                    part: [0.0; 3],
                    part_normal: None,
                    effect_m: [0.0; 3],
                    u_per_sd: [0.0; 3],
                    if_halved_m: [0.0; 3],
                    if_halved_normal_m: None,
                    found_together: together,
                },
                falls,
                own,
            }),
        }
    };
    for &(place, sd) in &budget.mixer.alone {
        if slopes[place].iter().any(|s| NO_SLOPE < s.abs()) {
            let falls = four(slopes[place]).map(|s| (s * sd) * (s * sd));
            add(place, sd, falls, falls, false);
        }
    }
    if let Some(together) = &budget.mixer.together {
        for (row, &place) in together.places.iter().enumerate() {
            let (mut mixed, mut within) = ([0.0; 4], [0.0; 4]);
            for (column, &other) in together.places.iter().enumerate() {
                let covariance = together.covariance[(row, column)];
                let same = budget.terms[other].group == budget.terms[place].group;
                for (k, s) in four(slopes[other]).into_iter().enumerate() {
                    mixed[k] += covariance * s;
                    within[k] += if same { covariance * s } else { 0.0 };
                }
            }
            let slope = four(slopes[place]);
            if slope.iter().any(|s| NO_SLOPE < s.abs()) {
                let sd = together.covariance[(row, row)].sqrt();
                let times = |by: [f64; 4]| [0, 1, 2, 3].map(|k| slope[k] * by[k]);
                add(place, sd, times(mixed), times(within), true);
            }
        }
    }
    let mut shares: Vec<Share> = groups
        .into_iter()
        .map(|group| finished(group, total, budget.k(), normal.is_some()))
        .collect();
    shares.sort_by(|a, b| b.part[2].total_cmp(&a.part[2]));
    shares
}

fn finished(group: Gathered, total: [f64; 4], k: f64, normal: bool) -> Share {
    let Gathered {
        mut share,
        falls,
        own,
    } = group;
    let part = [0, 1, 2, 3].map(|i| {
        if 0.0 < total[i] {
            falls[i] / total[i]
        } else {
            0.0
        }
    });
    let halved = [0, 1, 2, 3].map(|i| {
        let left = total[i] - falls[i] + 0.25 * own[i];
        k * (total[i].sqrt() - left.max(0.0).sqrt())
    });
    // Scaling u by 1 + δ scales Σ by 2 falls δ: ∂U/∂u = k falls / (u √Σ).
    let per_sd = [0, 1, 2].map(|i| {
        let scale = share.sd.unwrap_or(1.0);
        if 0.0 < total[i] {
            k * falls[i] / (scale * total[i].sqrt())
        } else {
            0.0
        }
    });
    share.part = [part[0], part[1], part[2]];
    share.part_normal = normal.then_some(part[3]);
    share.effect_m = [0, 1, 2].map(|i| own[i].sqrt());
    share.u_per_sd = per_sd;
    share.if_halved_m = [halved[0], halved[1], halved[2]];
    share.if_halved_normal_m = normal.then_some(halved[3]);
    share
}

impl PoseBudget {
    /// The shares in the order of what halving them would gain along an axis, the best first.
    pub fn would_help(&self, axis: usize) -> Vec<&Share> {
        let mut shares: Vec<&Share> = self.shares.iter().collect();
        shares.sort_by(|a, b| b.if_halved_m[axis].total_cmp(&a.if_halved_m[axis]));
        shares
    }
}

impl Scatter {
    /// Whether it is stated at all.
    pub fn is_stated(self) -> bool {
        self != Scatter::NotStated
    }
}
