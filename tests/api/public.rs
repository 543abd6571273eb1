//! What everyone is given of a published summary: the page, its files, the page to embed, the feed;
//! all of it gone as soon as the summary is withdrawn.

use crate::network::step;
use crate::summaries::{Staff, withdraw};
use quietbeam_tests::on_both_stores;
use quietbeam_tests::server::{Answer, Asked, Sends, Served};
use serde_json::Value;

fn page(stranger: &impl Sends, address: &str) -> Answer {
    stranger.send(&Asked::new("GET", format!("/{address}")).header("accept", "text/html,*/*"))
}

/// The files of a summary, with their media types.
const FILES: [(&str, &str); 5] = [
    ("/summaries/1", "text/html; charset=utf-8"),
    ("/summaries/1/embed", "text/html; charset=utf-8"),
    ("/summaries/1/tables.csv", "text/csv; charset=utf-8"),
    ("/summaries/1/citation.json", "application/json"),
    ("/summaries/1/summary.pdf", "application/pdf"),
];

fn published<'s>(served: &'s Served<'_>) -> (Staff<'s>, String) {
    let staff = Staff::new(served);
    let (path, etag) = staff.draft(served);
    staff.approve(&path, &etag);
    step(&staff.publisher, &format!("{path}/publication")).expect(200);
    (staff, path)
}

/// Every cell of the JSON, as the delimited text has it: the two must say the same.
fn cells(tables: &str) -> Vec<(String, String, String, String)> {
    let mut lines = csv::Reader::from_reader(tables.as_bytes());
    let cell = |line: csv::StringRecord| {
        (line[0].to_owned(), line[1].to_owned(), line[3].to_owned(), format!("{}{}", &line[5], &line[6]))
    };
    lines.records().map(|line| cell(line.expect("a line"))).collect()
}

fn as_written(count: &Value) -> String {
    count["shown"].as_u64().map_or_else(|| "no".to_owned(), |count| format!("yes{count}"))
}

on_both_stores! {
    fn everyone_is_given_it_and_may_keep_it(registry) {
        let served = Served::new(registry);
        published(&served);
        let stranger = served.stranger();
        for (address, media_type) in FILES {
            let given = page(&stranger, address).expect(200);
            assert_eq!(given.header("content-type"), Some(media_type), "{address}");
            assert_eq!(given.header("cache-control"), Some("public, max-age=300"), "{address}");
            let tag = given.header("etag").expect("a strong tag").to_owned();
            assert!(tag.starts_with('"'), "{address}: {tag}");
            let again = stranger.send(&Asked::new("GET", format!("/{address}")).header("if-none-match", &tag));
            assert_eq!((again.status, again.body().len()), (304, 0), "{address}");
            let other = stranger.send(&Asked::new("GET", format!("/{address}")).header("if-none-match", "\"00\""));
            assert_eq!(other.status, 200, "{address}");
            assert_eq!(page(&stranger, address).body(), given.body(), "{address} is the same bytes each time");
        }
        for absent in ["/summaries/2", "/summaries/2/embed", "/summaries/0/tables.csv", "/summaries/-1/citation.json", "/summaries/x/summary.pdf"] {
            assert_eq!(page(&stranger, absent).status, 404, "{absent}");
        }
    }

    fn the_files_say_what_the_summary_says(registry) {
        let served = Served::new(registry);
        published(&served);
        let stranger = served.stranger();
        let said = stranger.get("/summaries/1").expect(200).json();
        let csv = cells(&page(&stranger, "/summaries/1/tables.csv").expect(200).text());
        let mut compared = 0;
        for line in said["lines"].as_array().unwrap() {
            let row = format!("{}.{}", line["procedure_group"].as_str().unwrap(), line["strategy_intended"].as_str().unwrap());
            for column in ["cases", "no_x_ray", "acute_success", "major", "minor", "imaging_only", "drained_effusion"] {
                let count = if column == "cases" { &line[column] } else { &line[column]["count"] };
                let wanted = ("outcomes".to_owned(), row.clone(), column.to_owned(), as_written(count));
                assert!(csv.contains(&wanted), "{wanted:?}");
                compared += 1;
            }
        }
        assert!(compared > 100, "{compared}");
        let cited = page(&stranger, "/summaries/1/citation.json").expect(200).json();
        assert_eq!(cited["creators"][0]["name"], "Harbour Rhythm Network");
        assert_eq!(cited["types"]["resourceTypeGeneral"], "Dataset", "a term of the DataCite schema");
        let listed = stranger.get("/summaries").expect(200).json();
        assert_eq!(cited["identifiers"][1]["identifier"], listed["items"][0]["content_hash"]);
        assert_eq!(cited["dates"][0]["date"].as_str(), listed["items"][0]["published_at"].as_str().map(|at| &at[..10]));
        assert!(page(&stranger, "/summaries/1/summary.pdf").expect(200).body().starts_with(b"%PDF-"));
    }

    fn only_the_table_stands_inside_other_pages(registry) {
        let served = Served::new(registry);
        published(&served);
        let stranger = served.stranger();
        let embedded = page(&stranger, "/summaries/1/embed").expect(200);
        let policy = embedded.header("content-security-policy").unwrap();
        assert!(!policy.contains("frame-ancestors") && !policy.contains("script-src"), "{policy}");
        assert_eq!(embedded.header("cross-origin-resource-policy"), Some("cross-origin"));
        let text = embedded.text();
        for inside in ["<form", "<script", "<nav", "Sign in"] {
            assert!(!text.contains(inside), "{inside}: {text}");
        }
        assert!(text.contains("not for decisions about an individual patient"), "{text}");
        for address in ["/summaries", "/summaries/1", "/summaries/1/tables.csv", "/sign-in"] {
            let policy = page(&stranger, address).header("content-security-policy").unwrap().to_owned();
            assert!(policy.contains("frame-ancestors 'none'"), "{address}: {policy}");
        }
    }

    fn a_withdrawn_summary_is_gone_in_every_form(registry) {
        let served = Served::new(registry);
        let (staff, path) = published(&served);
        let stranger = served.stranger();
        // All of them are in memory now.
        for (address, _) in FILES {
            page(&stranger, address).expect(200);
        }
        let feed = page(&stranger, "/summaries/feed.xml").expect(200);
        assert_eq!(feed.header("content-type"), Some("application/atom+xml; charset=utf-8"));
        assert!(feed.text().contains("<title>Safety summary 1 was published</title>"), "{}", feed.text());
        let reason = "one centre <b>counted</b> twice & more";
        withdraw(&staff.monitor, &path, reason).expect(200);
        for (address, _) in FILES {
            let gone = page(&stranger, address);
            assert_eq!(gone.status, 410, "{address}");
            assert!(gone.text().contains("twice"), "{address} says why: {}", gone.text());
        }
        let feed = page(&stranger, "/summaries/feed.xml").expect(200).text();
        assert!(feed.contains("Safety summary 1 was withdrawn"), "{feed}");
        assert!(feed.contains("&lt;b&gt;counted&lt;/b&gt; twice &amp; more"), "{feed}");
        assert_eq!(feed.matches("<entry>").count(), 1);
    }
}
