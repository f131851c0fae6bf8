//! Files that are wrong as a whole or in a row: what is said, and that nothing is stored.

use rstest::rstest;
use subimago::app::import::ImportOptions;

use crate::support::{Club, columns, counts, options, said};

const READING: &str = "site,date,tmean_c,tmin_c,tmax_c\nbridge,2024-05-01,9.5,8,11\n";
const RECORD: &str = "site,date_from,date_to,taxon,count\nbridge,2024-05-01,2024-05-08,olives,4\n";

async fn refused(text: Vec<u8>, records: bool, options: &ImportOptions) -> Vec<String> {
    let club = Club::new().await;
    club.readings("site,date,tmean_c\nweir,2023-05-01,8.5\n").await;
    club.records("site,date_from,date_to,taxon,count\nbridge,2023-05-01,2023-05-08,olives,4\n").await;
    let before = club.content().await;
    let file = Box::new(std::io::Cursor::new(text));
    let document =
        if records { club.records_from(file, options).await } else { club.readings_from(file, options).await };
    assert!(!document.accepted && document.fault_count > 0);
    assert_eq!(counts(&document)[..3], [0, 0, 0]);
    assert_eq!(club.content().await, before, "a refused file stores nothing");
    said(&document)
}

#[rstest]
#[case::min_above_max("bridge,2024-05-02,9.5,12,11\n", &["line 3, column tmin_c: is above tmax_c (11) (found \"12\")"])]
#[case::mean_outside("bridge,2024-05-02,7.5,8,11\n", &["line 3, column tmean_c: lies outside tmin_c..tmax_c (8..11) (found \"7.5\")"])]
#[case::bad_date("bridge,02/05/2024,9.5,8,11\n", &["line 3, column date: must be a date as YYYY-MM-DD (found \"02/05/2024\")"])]
#[case::no_such_day("bridge,2023-02-29,9.5,8,11\n", &["line 3, column date: is not a day of the calendar (found \"2023-02-29\")"])]
#[case::impossible_year("bridge,0202-05-02,9.5,8,11\n", &["line 3, column date: must not be before 1850 (found \"0202-05-02\")"])]
#[case::future("bridge,2025-05-02,9.5,8,11\n", &["line 3, column date: lies in the future (found \"2025-05-02\")"])]
#[case::two_values("bridge,2024-05-02,9.5,8,11\nBRIDGE,2024-05-02,9.6,8,11\n",
    &["line 4, column tmean_c: line 3 says something else of the same gauge and time (found \"9.6\")"])]
#[case::unknown_gauge("brigde,2024-05-02,9.5,8,11\n",
    &["line 3, column site: is not a known gauge; declared are bridge, weir (found \"brigde\")"])]
#[case::comma("bridge,2024-05-02,\"9,5\",8,11\n",
    &["line 3, column tmean_c: must be a number with a decimal point, not a comma (found \"9,5\")"])]
#[case::not_a_number("bridge,2024-05-02,NaN,8,11\n", &["line 3, column tmean_c: must be a number (found \"NaN\")"])]
#[case::no_mean("bridge,2024-05-02,,8,11\n", &["line 3, column tmean_c: is empty"])]
#[case::kelvin("bridge,2024-05-02,282.6,281,284\n",
    &["line 3, column tmean_c: must be a temperature in degrees Celsius between -60 and 100 (found \"282.6\")"])]
#[case::several("bridgd,2024-05-32,x,8,11\nbridge,2024-05-03\n", &[
    "line 3, column site: is not a known gauge; declared are bridge, weir (found \"bridgd\")",
    "line 3, column date: is not a day of the calendar (found \"2024-05-32\")",
    "line 3, column tmean_c: must be a number (found \"x\")",
    "line 4, column tmean_c: the row has 2 fields, the header 5 (found \"bridge,2024-05-03\")"])]
#[tokio::test]
async fn wrong_rows_of_readings(#[case] rows: &str, #[case] expected: &[&str]) {
    assert_eq!(refused(format!("{READING}{rows}").into_bytes(), false, &options()).await, expected);
}

#[rstest]
#[case::negative_count("bridge,2024-05-08,2024-05-15,olives,-3\n", &["line 3, column count: must not be negative (found \"-3\")"])]
#[case::fraction("bridge,2024-05-08,2024-05-15,olives,3.5\n", &["line 3, column count: must be a whole number (found \"3.5\")"])]
#[case::unknown_reach("nowhere,2024-05-08,2024-05-15,olives,3\n",
    &["line 3, column site: is not a known reach; declared are bridge, mill-meadow (found \"nowhere\")"])]
#[case::unknown_taxon("bridge,2024-05-08,2024-05-15,oilves,3\n",
    &["line 3, column taxon: is not a known taxon; declared are ephemera-danica, olives (found \"oilves\")"])]
#[case::backwards("bridge,2024-05-15,2024-05-08,olives,3\n",
    &["line 3, column date_to: is before date_from, 2024-05-15 (found \"2024-05-08\")"])]
#[case::absurd_interval("bridge,2019-05-15,2024-05-08,olives,3\n",
    &["line 3, column date_from: lies 1820 days before date_to; at most 366 are taken (found \"2019-05-15\")"])]
#[case::nothing_said("bridge,2024-05-08,2024-05-15,olives,\n",
    &["line 3, column count: is empty and abundance_class too; write 0 or none where none were seen"])]
#[case::two_values("bridge,2024-05-01,2024-05-08,olives,5\n",
    &["line 3, column count: line 2 says something else of the same record (found \"5\")"])]
#[tokio::test]
async fn wrong_rows_of_records(#[case] rows: &str, #[case] expected: &[&str]) {
    assert_eq!(refused(format!("{RECORD}{rows}").into_bytes(), true, &options()).await, expected);
}

#[rstest]
#[case::fahrenheit("site,date,tmean_f\nbridge,2024-05-01,49\n", "line 1, column header: says degrees Fahrenheit")]
#[case::degrees_f(
    "gauge,date,water temp (\u{b0}F)\nbridge,2024-05-01,49\n",
    "line 1, column header: says degrees Fahrenheit"
)]
#[case::half_fahrenheit(
    "site,date,tmean_c,tmax_f\nbridge,2024-05-01,9,55\n",
    "line 1, column header: says degrees Fahrenheit"
)]
#[case::missing_column(
    "site,date,tmin_c,tmax_c\nbridge,2024-05-01,8,11\n",
    "line 1, column header: the column tmean_c is missing (found \"site,date,tmin_c,tmax_c\")"
)]
#[case::missing_site("date,tmean_c\n2024-05-01,8\n", "line 1, column header: the column site or gauge is missing")]
#[case::semicolons(
    "site;date;tmean_c\nbridge;2024-05-01;8\n",
    "line 1, column header: the column site or gauge is missing; columns must be separated by commas"
)]
#[case::two_sites(
    "site,gauge,date,tmean_c\nbridge,weir,2024-05-01,8\n",
    "line 1, column header: a second column for site; keep one (found \"gauge\")"
)]
#[case::empty("", "line 1, column file: the file is empty; it needs a header row")]
#[case::only_a_mark("\u{feff}\r\n", "line 1, column file: the file is empty but for a byte-order mark")]
#[case::open_quote(
    "site,date,tmean_c\nbridge,2024-05-01,8\nbridge,\"2024-05-02,8\nweir,2024-05-01,8\n",
    "line 3, column date: a quote opened in this row is never closed"
)]
#[tokio::test]
async fn wrong_files_of_readings(#[case] text: &str, #[case] expected: &str) {
    let found = refused(text.as_bytes().to_vec(), false, &options()).await;
    assert!(found[0].starts_with(expected), "{found:?}");
}

#[tokio::test]
async fn files_that_are_not_utf8_are_named_by_line_and_column() {
    let latin = b"site,date,taxon\n".iter().chain(b"bridge,2024-05-01,x\nm\xfchle,2024-05-02,y\n").copied().collect();
    let found = refused(latin, false, &options()).await;
    let expected =
        "line 3, column site: the text is not UTF-8 from here on; save the file as UTF-8 (found \"byte 0xFC\")";
    assert_eq!(found, [expected]);
}

#[tokio::test]
async fn a_column_that_was_asked_for_and_is_not_there_is_said() {
    let found = refused(READING.as_bytes().to_vec(), false, &columns("tmean_c=mean")).await;
    assert!(found[0].contains("no such column to be read as tmean_c"), "{found:?}");
    let found = refused(b"site,date,temp_f\nbridge,2024-05-01,50\n".to_vec(), false, &columns("tmean_c=temp_f")).await;
    assert!(found[0].contains("Fahrenheit"), "{found:?}");
}

#[tokio::test]
async fn faults_beyond_a_thousand_are_counted() {
    let rows = "bridge,2024-05-01,x\n".repeat(1500);
    let club = Club::new().await;
    let document = club.readings(format!("site,date,tmean_c\n{rows}")).await;
    assert_eq!((document.faults.len(), document.fault_count, document.rejected), (1000, 1500, 1500));
    assert_eq!(document.faults[999].line, 1001);
}

#[tokio::test]
async fn best_effort_stores_the_good_rows_of_a_file_but_none_of_a_broken_one() {
    let club = Club::new().await;
    let options = ImportOptions { best_effort: true, ..options() };
    let text =
        "site,date,tmean_c\nbridge,2024-05-01,9\nbridge,2024-05-02,x\nbridge,2024-05-03,9\nbridge,2024-05-03,8\n";
    let import = async |text: &str, options: &ImportOptions| {
        club.readings_from(Box::new(std::io::Cursor::new(text.to_owned())), options).await
    };
    let trial = import(text, &ImportOptions { dry_run: true, ..options.clone() }).await;
    assert_eq!(counts(&trial), [1, 0, 0, 3]);
    assert_eq!(club.daily("bridge").await.len(), 0);
    let document = import(text, &options).await;
    assert!(document.accepted);
    assert_eq!(counts(&document), [1, 0, 0, 3]);
    assert_eq!(document.faults.iter().map(|fault| fault.line).collect::<Vec<_>>(), [3, 5]);
    assert_eq!(club.daily("bridge").await.len(), 1);
    assert!(!import("site,date,tmean_f\nbridge,2024-05-04,49\n", &options).await.accepted);
}
