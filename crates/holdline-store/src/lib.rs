//! The job file.
