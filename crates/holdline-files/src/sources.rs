//! Every source that a format leans on, once. Docs link here.

use holdline::sources::{AtHand, Source};

/// glTF, the model in space.
pub const GLTF: Source = Source {
    title: "glTF 2.0 Specification",
    edition: "Khronos Group; ISO/IEC 12113:2022 (from memory)",
    used: "binary container, accessors and their bounds, node matrices by columns, y up",
    at_hand: AtHand::FromMemory,
};

/// URDF, the robot description.
pub const URDF: Source = Source {
    title: "Unified Robot Description Format, XML specification of joint and link",
    edition: "Open Robotics wiki (from memory)",
    used: "origin by xyz and roll-pitch-yaw about fixed axes, joint kinds, limits, mimic, visuals",
    at_hand: AtHand::FromMemory,
};

/// Convex hull of plane points.
pub const HULL: Source = Source {
    title: "A. M. Andrew, Another efficient algorithm for convex hulls in two dimensions",
    edition: "Information Processing Letters 9, 1979 (from memory)",
    used: "the two halves of the hull by one sweep each",
    at_hand: AtHand::FromMemory,
};
