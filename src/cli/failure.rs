//! What the user is told when a command fails: what, why, and how to mend it.

use std::fmt;

/// A failed command.
#[derive(Debug)]
pub(super) struct Failure {
    cause: anyhow::Error,
    mend: Option<String>,
    usage: bool,
}

impl Failure {
    /// A failure in words.
    pub(super) fn message(text: impl fmt::Display + fmt::Debug + Send + Sync + 'static) -> Self {
        Self { cause: anyhow::Error::msg(text), mend: None, usage: false }
    }

    /// A failure that another call would have avoided: exit code 2.
    pub(super) fn usage(cause: impl Into<anyhow::Error>) -> Self {
        Self { cause: cause.into(), mend: None, usage: true }
    }

    /// Says how to mend it.
    #[must_use]
    pub(super) fn with_mend(mut self, mend: impl Into<String>) -> Self {
        self.mend = Some(mend.into());
        self
    }

    /// Says what was being done, above the cause.
    #[must_use]
    pub(super) fn while_doing(mut self, what: impl fmt::Display + Send + Sync + 'static) -> Self {
        self.cause = self.cause.context(what);
        self
    }

    /// True when the call itself was wrong.
    pub(super) fn is_usage(&self) -> bool {
        self.usage
    }
}

impl<E: Into<anyhow::Error>> From<E> for Failure {
    fn from(cause: E) -> Self {
        Self { cause: cause.into(), mend: None, usage: false }
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "error: {}", self.cause)?;
        let mut last = self.cause.to_string();
        for cause in self.cause.chain().skip(1) {
            let text = cause.to_string();
            if text != last {
                write!(f, "\n  because: {text}")?;
                last = text;
            }
        }
        match &self.mend {
            Some(mend) => write!(f, "\n  to mend: {mend}"),
            None => Ok(()),
        }
    }
}

/// Adds words to a failed result.
pub(super) trait Mend<T> {
    /// Says how to mend it.
    fn mend(self, how: impl Into<String>) -> Result<T, Failure>;
    /// Says what was being done.
    fn doing(self, what: impl fmt::Display + Send + Sync + 'static) -> Result<T, Failure>;
}

impl<T, E: Into<Failure>> Mend<T> for Result<T, E> {
    fn mend(self, how: impl Into<String>) -> Result<T, Failure> {
        self.map_err(|error| error.into().with_mend(how))
    }

    fn doing(self, what: impl fmt::Display + Send + Sync + 'static) -> Result<T, Failure> {
        self.map_err(|error| error.into().while_doing(what))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_says_what_why_and_how_to_mend() {
        let inner = std::io::Error::other("the disk is full");
        let failure =
            Err::<(), _>(inner).doing("cannot write the report").mend("Free some space.").expect_err("failed");
        assert_eq!(
            failure.to_string(),
            "error: cannot write the report\n  because: the disk is full\n  to mend: Free some space."
        );
        assert!(!failure.is_usage());
    }
}
