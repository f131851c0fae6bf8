//! Settings: defaults, file, environment; validated once.
