//! The pins of the front and the tooth in a pose, turned level: a line for drawings.

use holdline::machine::front::Boom;
use holdline::machine::joints::Joints;
use holdline::machine::pose::front_pose;
use holdline::tooth::attitude::Lean;
use holdline::tooth::model::ToothModel;

/// A, (M,) B, C, tooth: forward of the swing axis, left, above the track underside, m.
pub(crate) fn chain_level(model: &ToothModel, joints: &Joints, lean: &Lean) -> Vec<[f64; 3]> {
    let front = model.geometry().front.values();
    let pose = front_pose(&front, joints);
    let level = lean.level_from_house();
    let mut chain = vec![pose.house_from_boom.origin()];
    match front.boom {
        Boom::Mono { .. } => {}
        Boom::TwoPiece { .. } | Boom::Offset { .. } => {
            chain.push(pose.house_from_boom_upper.origin());
        }
    }
    chain.extend([
        pose.house_from_stick.origin(),
        pose.house_from_ear.origin(),
        pose.tooth_house,
    ]);
    chain
        .into_iter()
        .map(|at| (level * at).vector().into())
        .collect()
}
