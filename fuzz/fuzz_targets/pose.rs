//! A machine, a pose and readings made of any bytes: what comes out is finite, or a fault.
#![cfg_attr(fuzzing, no_main)]

holdline_fuzz::target!(
    holdline::tooth::fuzz::fuzz_pose,
    seeds: &["fuzz/seeds/pose.bin"]
);
