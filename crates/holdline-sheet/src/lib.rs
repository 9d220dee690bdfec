//! Drawing: what screen, PDF and PNG share.
