//! The readiness table as a sheet.
