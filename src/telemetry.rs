//! Log set-up.
