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
