//! The desk's long work: imports with their trials and faults, fits, and what the records teach.

use std::sync::Arc;

use axum::http::Method;
use subimago::clock::FixedClock;
use subimago::domain::job::Kinds;
use subimago::jobs::Runner;
use subimago::store::{job, record};

use crate::desk::{Desk, ORIGIN, hidden, well_formed};
use crate::support::{Answer, TestApp, now, on_both, slug};

const PATH: &str = "/desk/ostrey/imports";
const RECORDS: &str = "site,date_from,date_to,taxon,count\nmill-meadow,2025-05-12,2025-05-12,ephemera-danica,3\n";

/// Sends the form with a file, its fields in the order of the page.
async fn send(app: &TestApp, desk: &Desk, fields: &[(&str, &str)], file: Option<(&str, &str)>) -> Answer {
    let mut body = String::new();
    for (name, value) in fields {
        body += &format!("--edge\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n");
    }
    let (called, content) = file.unwrap_or(("", ""));
    body += &format!(
        "--edge\r\nContent-Disposition: form-data; name=\"table\"; filename=\"{called}\"\r\n\
        Content-Type: text/csv\r\n\r\n{content}\r\n--edge--\r\n"
    );
    app.request(Method::POST, PATH)
        .header("cookie", &desk.cookie)
        .header("origin", ORIGIN)
        .header("accept", "text/html")
        .header("content-type", "multipart/form-data; boundary=edge")
        .raw(body)
        .send()
        .await
}

async fn work(app: &TestApp) {
    let runner = Runner {
        db: app.service.db().clone(),
        clock: Arc::new(FixedClock(now())),
        today: None,
        sources: None,
        kinds: Kinds::Only("import"),
        notify: Arc::new(|_| ()),
    };
    assert!(runner.step().await.expect("the table is read"), "a job was waiting");
}

async fn stored(app: &TestApp) -> usize {
    let mut tx = app.service.db().read().await.expect("reads");
    record::records(&mut tx, &slug("ostrey"), None, None).await.expect("reads").len()
}

async fn queued(app: &TestApp, kind: &str) -> usize {
    let mut tx = app.service.db().read().await.expect("reads");
    job::jobs_of(&mut tx, &slug("ostrey"), kind, 50).await.expect("reads").len()
}

on_both! {
    async fn a_table_is_tried_then_stored_and_every_wrong_row_is_named(app) {
        let desk = Desk::open(&app, &app.keeper).await;
        let page = desk.page(PATH).await;
        well_formed(&page);
        assert!(page.contains("enctype=\"multipart/form-data\"") && page.contains("name=\"dry_run\" value=\"yes\" checked"), "{page}");
        let (mark, key) = (hidden(&page, "mark"), hidden(&page, "key"));
        let before = stored(&app).await;
        let trial = [("mark", mark.as_str()), ("key", key.as_str()), ("kind", "records"), ("dry_run", "yes")];
        let taken = send(&app, &desk, &trial, Some(("notebook <1>.csv", RECORDS))).await.expect(303);
        let path = taken.header("location").split('?').next().expect("a path").to_owned();
        let waiting = desk.page(&path).await;
        assert!(waiting.contains("Waits for a worker.") && waiting.contains("notebook &lt;1&gt;.csv"), "{waiting}");
        // The page sent again is the same import.
        let again = send(&app, &desk, &trial, Some(("notebook <1>.csv", RECORDS))).await.expect(303);
        assert_eq!(again.header("location").split('?').next(), Some(path.as_str()));
        assert_eq!(queued(&app, "import").await, 1);
        work(&app).await;
        let done = desk.page(&path).await;
        well_formed(&done);
        assert!(done.contains("A trial, nothing was stored: of 1 rows 1 new"), "{done}");
        assert_eq!(stored(&app).await, before);
        let wish = [("mark", mark.as_str()), ("kind", "records")];
        let taken = send(&app, &desk, &wish, Some(("notebook.csv", RECORDS))).await.expect(303);
        work(&app).await;
        assert!(desk.page(taken.header("location").split('?').next().expect("a path")).await.contains("Stored: of 1 rows 1 new"));
        assert_eq!(stored(&app).await, before + 1);
        let wrong = format!("{RECORDS}nowhere,2025-05-12,2025-05-12,ephemera-danica,=1+1\n");
        let taken = send(&app, &desk, &wish, Some(("wrong.csv", &wrong))).await.expect(303);
        work(&app).await;
        let page = desk.page(taken.header("location").split('?').next().expect("a path")).await;
        well_formed(&page);
        assert!(page.contains("Refused:") && page.contains("nowhere") && page.contains("=1+1"), "{page}");
        assert!(page.contains("<th scope=\"row\">3</th>"), "the line is named: {page}");
        let list = desk.page(PATH).await;
        assert!(list.contains("wrong.csv") && list.contains("records, a trial"), "{list}");
    }
}

on_both! {
    async fn a_wrong_import_form_keeps_nothing_and_says_where(app) {
        let desk = Desk::open(&app, &app.keeper).await;
        let mark = hidden(&desk.page(PATH).await, "mark");
        let none = send(&app, &desk, &[("mark", &mark), ("kind", "records")], None).await.expect(422).text();
        well_formed(&none);
        assert!(none.contains("id=\"import-table-error\""), "{none}");
        let table = Some(("a.csv", RECORDS));
        for (fields, field) in [
            (vec![("kind", "odd")], "kind"),
            (vec![("kind", "records"), ("mode", "yes"), ("separate_visits", "yes")], "separate_visits"),
            (vec![("kind", "records"), ("columns", "site")], "columns"),
            (vec![("kind", "readings"), ("quantity", "water_temperature"), ("licence", "CC0")], "licence"),
            (vec![("kind", "readings"), ("quantity", "odd")], "quantity"),
        ] {
            let fields: Vec<(&str, &str)> = [("mark", mark.as_str())].into_iter().chain(fields).collect();
            let page = send(&app, &desk, &fields, table).await.expect(422).text();
            well_formed(&page);
            assert!(page.contains(&format!("id=\"import-{field}-error\"")), "{field}: {page}");
        }
        let odd = send(&app, &desk, &[("mark", &mark), ("kind", "records")], Some(("a.csv", "a\0b"))).await.expect(422).text();
        assert!(odd.contains("id=\"import-table-error\"") && odd.contains("NUL"), "{odd}");
        for wrong in ["", "x"] {
            send(&app, &desk, &[("mark", wrong), ("kind", "records")], table).await.expect(403);
        }
        app.request(Method::POST, PATH).header("cookie", &desk.cookie).header("origin", "https://club.test")
            .header("content-type", "multipart/form-data; boundary=edge").raw("--edge--").send().await.expect(403);
        app.request(Method::POST, PATH).header("cookie", &desk.cookie).header("origin", ORIGIN)
            .header("content-type", "multipart/form-data; boundary=edge").raw("--edge\r\nhalf").send().await.expect(400);
        app.request(Method::POST, PATH).header("cookie", &desk.cookie).header("origin", ORIGIN)
            .header("content-type", "text/csv").raw(RECORDS).send().await.expect(415);
        assert_eq!(queued(&app, "import").await, 0);
    }
}

on_both! {
    async fn fits_are_asked_for_once_and_told_with_their_warnings(app) {
        let desk = Desk::open(&app, &app.keeper).await;
        let path = "/desk/ostrey/fits";
        let page = desk.page(path).await;
        well_formed(&page);
        assert!(page.contains("Too few records to leave the prior") && page.contains("120 of 6 years"), "{page}");
        let before = queued(&app, "fit").await;
        desk.post(path, &[("taxon", "ephemera-danica")]).await.expect(303);
        desk.post(path, &[("taxon", "ephemera-danica")]).await.expect(303);
        assert_eq!(queued(&app, "fit").await, before + 1, "it waits already");
        let page = desk.page(path).await;
        assert!(page.contains("<td>Ephemera danica</td><td>waits</td>"), "{page}");
        let refused = desk.post(path, &[("taxon", "no-such-fly")]).await.expect(422).text();
        well_formed(&refused);
        assert!(refused.contains("id=\"fit-taxon-error\""), "{refused}");
        desk.post(path, &[("taxon", "")]).await.expect(303);
        assert!(desk.page(path).await.contains("<td>every insect</td><td>waits</td>"));
    }
}

on_both! {
    async fn plan_and_review_say_what_is_awaited(app) {
        let desk = Desk::open(&app, &app.keeper).await;
        let plan = desk.page("/desk/ostrey/visits").await;
        well_formed(&plan);
        assert!(plan.contains("another version of the program"), "{plan}");
        let review = desk.page("/desk/ostrey/review").await;
        well_formed(&review);
        assert!(review.contains("fits are to be made anew"), "{review}");
    }
}
