//! The steps of the job as the command line and the workbench both run them: documents in, record out, sheet drawn.
