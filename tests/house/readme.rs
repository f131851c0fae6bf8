//! The README states the job first, in the words of the job.

use std::path::Path;

/// What the first paragraph must speak of, each by one of its words.
const JOB: [(&str, &[&str]); 8] = [
    ("the insects", &["insects"]),
    ("the reach", &["reach"]),
    ("the day", &["day"]),
    ("the hour", &["hour"]),
    ("how heavily", &["heavily"]),
    ("the stage", &["stage"]),
    ("the size", &["size"]),
    ("how sure it is", &["how sure", "uncertainty"]),
];

/// The first paragraph below the title.
fn first_paragraph(text: &str) -> String {
    text.split("\n\n").map(str::trim).find(|p| !p.is_empty() && !p.starts_with('#')).unwrap_or_default().to_lowercase()
}

fn faults(text: &str) -> Vec<String> {
    let paragraph = first_paragraph(text);
    JOB.iter()
        .filter(|(_, words)| !words.iter().any(|w| paragraph.contains(w)))
        .map(|(what, words)| format!("README.md: the first paragraph does not say {what} ({})", words.join(" or ")))
        .collect()
}

#[test]
fn the_first_paragraph_states_the_job() {
    super::hold("The README states the job first", &faults(&super::read(Path::new("README.md"))));
}

#[test]
fn the_commands_that_ci_runs_are_marked() {
    let text = super::read(Path::new("README.md"));
    for marker in ["<!-- ci:demo -->", "<!-- ci:test -->"] {
        assert_eq!(text.matches(marker).count(), 1, "{marker} marks exactly one command");
    }
}

#[test]
fn a_missing_word_is_found() {
    let good = "# T\n\nSays which insects emerge on which reach, from which day, at what hour, how heavily, which \
        stage and size, and how sure it is.\n\nMore.";
    assert!(faults(good).is_empty());
    assert_eq!(faults(&good.replace("how heavily, ", "")).len(), 1);
    assert_eq!(
        faults("# T\n\nA program.\n\nWhich insects, reach, day, hour, heavily, stage, size, how sure.").len(),
        8
    );
}
