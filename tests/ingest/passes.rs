//! A file is read several times: what is stored is what was checked.

use std::io::{Cursor, Read, Seek, SeekFrom};

use rstest::rstest;
use subimago::app::import::ImportOptions;

use crate::support::{Club, counts, options, said};

/// A file that another program writes to before it is read for the `changes`-th time.
struct Changing {
    file: Cursor<String>,
    then: String,
    changes: u32,
    passes: u32,
}

impl Read for Changing {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        self.file.read(buffer)
    }
}

impl Seek for Changing {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        // Each pass asks for the length first.
        if matches!(to, SeekFrom::End(_)) {
            self.passes += 1;
            if self.passes == self.changes {
                self.file = Cursor::new(self.then.clone());
            }
        }
        self.file.seek(to)
    }
}

/// More rows than are stored at once.
fn many(form: &str) -> String {
    let mut text =
        if form == "readings" { "site,at,value_c\n" } else { "site,date_from,date_to,taxon,count,id\n" }.to_owned();
    for row in 0..12_000 {
        let line = if form == "readings" {
            format!("bridge,2023-05-{:02}T{:02}:{:02}:00Z,9.25\n", row / 1440 + 1, row / 60 % 24, row % 60)
        } else {
            format!("bridge,2023-05-01,2023-05-08,olives,4,sample {row}\n")
        };
        text.push_str(&line);
    }
    text
}

async fn import(
    club: &Club,
    form: &str,
    file: Changing,
    options: &ImportOptions,
) -> subimago::app::document::ImportDocument {
    if form == "readings" {
        club.readings_from(Box::new(file), options).await
    } else {
        club.records_from(Box::new(file), options).await
    }
}

#[rstest]
#[case::one_value("9.25\n", "9.5\n", "olives,4,", "olives,5,")]
#[case::a_row_more(
    "\n",
    "\nbridge,2023-06-01T00:00:00Z,9.25\n",
    "\n",
    "\nbridge,2023-05-01,2023-05-08,olives,4,last\n"
)]
#[case::another_header("site", "sight", "site", "sight")]
#[tokio::test]
async fn a_file_that_changes_while_it_is_read_stores_nothing(
    #[case] reading: &str,
    #[case] other_reading: &str,
    #[case] record: &str,
    #[case] other_record: &str,
    #[values("readings", "records")] form: &str,
    #[values(2, 3)] changes: u32,
    #[values(false, true)] best_effort: bool,
) {
    let club = Club::new().await;
    let before = club.content().await;
    let text = many(form);
    let (from, to) = if form == "readings" { (reading, other_reading) } else { (record, other_record) };
    // The last place but for the header, so that all before it has been stored when it is met.
    let at = text.rfind(from).unwrap();
    let then = format!("{}{to}{}", &text[..at], &text[at + from.len()..]);
    let file = Changing { file: Cursor::new(text), then, changes, passes: 0 };
    let document = import(&club, form, file, &ImportOptions { best_effort, ..options() }).await;
    assert_eq!(said(&document), ["line 1, column file: the file did not read the same twice; import it again"]);
    assert_eq!((document.accepted, counts(&document)), (false, [0, 0, 0, 12_000]));
    assert_eq!(club.content().await, before);
}

#[rstest]
#[tokio::test]
async fn more_rows_than_are_stored_at_once_are_all_stored(#[values("readings", "records")] form: &str) {
    let club = Club::new().await;
    let whole = || Changing { file: Cursor::new(many(form)), then: String::new(), changes: 0, passes: 0 };
    assert_eq!(counts(&import(&club, form, whole(), &options()).await), [12_000, 0, 0, 0]);
    let stored =
        if form == "readings" { club.instants("bridge").await.len() } else { club.stored_records().await.len() };
    assert_eq!(stored, 12_000);
    assert_eq!(counts(&import(&club, form, whole(), &options()).await), [0, 0, 12_000, 0]);
}
