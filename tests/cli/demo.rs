use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use super::Desk;

#[test]
fn a_folder_with_other_data_is_refused() {
    let desk = Desk::with_river();
    let told = desk.fails(1, &["demo", "--once", "--data", "."]);
    assert!(told.contains("other data"), "{told}");
    assert_eq!(desk.json(&["token", "list"])["items"].as_array().map(Vec::len), Some(0), "nothing was changed");
}

/// Ends the demo when a test fails.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

#[test]
fn the_demo_serves_at_once_says_what_is_missing_and_stops_when_told() {
    let desk = Desk::new();
    let began = Instant::now();
    let mut command = Command::new(env!("CARGO_BIN_EXE_subimago"));
    command.args(["demo", "--listen", "127.0.0.1:0", "--data", "demo", "--today", "2026-05-20"]);
    command.current_dir(desk.path()).env_clear().stdout(Stdio::piped()).stderr(Stdio::null());
    let mut demo = Running(command.spawn().expect("the program starts"));
    let mut lines = BufReader::new(demo.0.stdout.take().expect("a pipe")).lines();
    let mut greeting = Vec::new();
    while greeting.iter().filter(|line: &&String| line.contains(" token: subimago_")).count() < 2 {
        greeting.push(lines.next().expect("two tokens").expect("text"));
    }
    let address = greeting.iter().find_map(|line| line.strip_prefix("Open http://")).expect("an address");
    let page = get(address, "/w/river-ostrey");
    // The goal for a release build is two seconds; this one is slower and shares its machine.
    assert!(began.elapsed() < Duration::from_mins(1), "{:?}", began.elapsed());
    assert!(
        page.starts_with("HTTP/1.1 200") && page.contains("invented") && page.contains("Ephemera danica"),
        "{page}"
    );
    assert!(get(address, "/healthz").starts_with("HTTP/1.1 200"));
    assert!(get(address, "/readyz").starts_with("HTTP/1.1 503"), "it is not ready before its forecasts");
    terminate(&demo.0);
    let told = Instant::now();
    let status = demo.0.wait().expect("an end");
    assert_eq!(status.code(), Some(0));
    assert!(told.elapsed() < Duration::from_secs(15), "{:?}", told.elapsed());
}

fn get(address: &str, path: &str) -> String {
    let mut stream = std::net::TcpStream::connect(address).expect("it listens");
    write!(stream, "GET {path} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n").expect("sent");
    let mut answer = Vec::new();
    stream.read_to_end(&mut answer).expect("an answer");
    String::from_utf8_lossy(&answer).into_owned()
}

fn terminate(child: &Child) {
    let sent = Command::new("kill").args(["-TERM", &child.id().to_string()]).status().expect("kill is there");
    assert!(sent.success());
}
