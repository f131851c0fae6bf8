use super::Desk;

#[test]
fn the_program_describes_itself() {
    let desk = Desk::new();
    let openapi: serde_json::Value = serde_json::from_str(&desk.ok(&["openapi"])).expect("one document");
    assert!(openapi["paths"]["/v1/watersheds"].is_object());
    for shell in ["bash", "zsh", "fish"] {
        assert!(desk.ok(&["completions", shell]).contains("watershed"), "{shell}");
    }
    assert!(desk.ok(&["man"]).starts_with(".ie"));
    std::fs::create_dir(desk.path().join("man")).expect("a folder");
    desk.ok(&["man", "--out", "man"]);
    assert!(desk.path().join("man/subimago-forecast.1").exists());
}
