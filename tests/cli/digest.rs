use super::Desk;

#[test]
fn the_week_is_plain_text_and_an_unknown_water_is_told() {
    let desk = Desk::with_river();
    let text = desk.ok(&["digest", "--watershed", "RIVER-ostrey"]);
    assert!(text.contains("the week from ") && text.contains("\nNO FORECAST YET\n"), "{text}");
    assert!(text.contains("\nBEFORE YOU GO\n- ") && text.contains("- A forecast is not a safety statement."), "{text}");
    assert!(text.ends_with("/w/river-ostrey\n") && text.lines().all(|line| line.chars().count() <= 76), "{text}");
    let german = desk.ok(&["digest", "--watershed", "river-ostrey", "--lang", "de"]);
    assert!(german.contains("\nBEVOR DU LOSGEHST\n") && !german.contains("BEFORE YOU GO"), "{german}");
    let words = desk.fails(1, &["digest", "--watershed", "elsewhere"]);
    assert!(words.contains("watershed not found") && words.contains("to mend"), "{words}");
}
