//! Drawing: what screen, PDF and PNG share.
//!
//! A [`page::Page`] is a list of strokes, fills and words placed in millimetres on paper.
//! The sheets are pure functions from plain numbers to pages; the three writers put every stroke and
//! every letter of a page at the same place.
//! So what is on the screen is what prints, and what prints is what is signed.
//!
//! The rooms, from paper to sheet:

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
pub mod words;

pub mod dimension;
pub mod frame;
pub mod place;
pub mod plot;
pub mod scale;
pub mod table;

pub mod machine_view;
pub mod sheets;
