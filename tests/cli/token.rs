use super::Desk;

#[test]
fn a_token_is_shown_once_listed_without_its_secret_and_ended() {
    let desk = Desk::with_river();
    let create = ["token", "create", "--name", "Evening walks", "--role", "keeper", "--watershed", "river-ostrey"];
    let secret = desk.ok(&create);
    let secret = secret.trim();
    assert!(secret.starts_with("subimago_") && secret.len() == 9 + 43 + 6, "{secret}");
    let listed = desk.json(&["token", "list"]);
    assert_eq!(listed["items"][0]["role"], "keeper");
    assert!(!listed.to_string().contains(secret));
    let id = listed["items"][0]["id"].as_str().expect("an identifier").to_owned();
    desk.ok(&["token", "revoke", &id]);
    assert!(desk.json(&["token", "list"])["items"][0]["revoked_at"].is_string());
    let database = std::fs::read(desk.path().join("subimago.db")).expect("a database");
    assert!(!database.windows(secret.len()).any(|w| w == secret.as_bytes()), "the secret was kept");
    let unknown = ["token", "create", "--name", "x", "--role", "member", "--watershed", "elsewhere"];
    assert!(desk.fails(1, &unknown).contains("elsewhere"));
}

#[test]
fn an_erased_token_leaves_no_name_in_the_file() {
    let desk = Desk::with_river();
    let name = "Ulverthwaite";
    desk.ok(&["token", "create", "--name", name, "--role", "member", "--watershed", "river-ostrey"]);
    let holds = || {
        let folder = std::fs::read_dir(desk.path()).expect("a folder").map(|entry| entry.expect("a file").path());
        let files = folder.filter(|path| path.to_string_lossy().contains("subimago.db"));
        files
            .map(|path| std::fs::read(path).expect("bytes"))
            .any(|b| b.windows(name.len()).any(|w| w == name.as_bytes()))
    };
    assert!(holds(), "the name is there before");
    let id = desk.json(&["token", "list"])["items"][0]["id"].as_str().expect("an identifier").to_owned();
    desk.ok(&["token", "erase", &id]);
    assert!(!holds(), "the name lives on in the file or its log");
    let listed = desk.json(&["token", "list"]);
    assert_eq!(listed["items"][0]["name"], "erased");
    assert!(listed["items"][0]["revoked_at"].is_string());
    assert!(desk.fails(1, &["token", "erase", "018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10"]).contains("token list"));
}
