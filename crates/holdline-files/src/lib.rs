//! Formats in and out.
