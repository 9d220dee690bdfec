//! The workbench: its server on loopback and its page.
