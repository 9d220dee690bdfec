//! Values published by others, one file a source under `tests/`.
