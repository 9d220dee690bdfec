#![doc = include_str!("../README.md")]

pub mod font;
pub mod geometry;
pub mod ink;
pub mod page;

pub mod hatch;
pub mod line;

pub mod pdf;
pub mod png;
pub mod svg;

pub mod figure;
pub mod lengths;
pub mod words;

pub mod arrows;
pub mod bars;
pub mod contour;
pub mod dimension;
pub mod ellipse;
pub mod frame;
pub mod legend;
pub mod place;
pub mod place_along;
pub mod plot;
pub mod scale;
pub mod sign;
pub mod table;

pub mod machine_view;
pub mod sheets;
pub mod uncertainty_map;
