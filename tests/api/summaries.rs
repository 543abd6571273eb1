//! Safety summaries: three people on the way to the public, and what the public gets.

use crate::network::{central, coordinator, only_mend, step, submit, submitted, text};
use quietbeam_schema::access::Role;
use quietbeam_tests::server::{Asked, Sends, Served, SignedIn};
use quietbeam_tests::{on_both_stores, sample};
use serde_json::{Value, json};

/// Whoever takes a summary to the public.
pub(crate) struct Staff<'s> {
    pub(crate) author: SignedIn<'s>,
    pub(crate) monitor: SignedIn<'s>,
    pub(crate) publisher: SignedIn<'s>,
}

impl<'s> Staff<'s> {
    pub(crate) fn new(served: &'s Served<'_>) -> Self {
        Self {
            author: served.member("author", Role::Society, &[]),
            monitor: served.member("monitor", Role::Monitor, &[]),
            publisher: served.member("publisher", Role::Society, &[]),
        }
    }

    /// Drafts a summary of a new cut of what stands there; its path and its version.
    pub(crate) fn draft(&self, served: &Served<'_>) -> (String, String) {
        let member = coordinator(served);
        submitted(&member);
        submit(&member, &sample::conventional_case());
        let investigator = central(served, Role::Investigator);
        let cut = investigator.post("/data-cuts", &json!({ "name": "first look" })).expect(201).json();
        let made = self.author.post("/summary-drafts", &json!({ "data_cut": cut["id"] })).expect(201);
        let content = &made.json()["content"];
        assert_eq!(content["data_cut_hash"], cut["content_hash"]);
        let location = made.header("location").unwrap().trim_start_matches("/api/v1").to_owned();
        (location, made.etag())
    }

    pub(crate) fn approve(&self, path: &str, etag: &str) {
        self.monitor.send(&Asked::new("POST", format!("{path}/approval")).if_match(etag)).expect(200);
    }
}

pub(crate) fn withdraw(person: &SignedIn<'_>, path: &str, reason: &str) -> quietbeam_tests::server::Answer {
    person.send(&Asked::new("POST", format!("{path}/withdrawal")).json(&json!({ "reason": reason })))
}

on_both_stores! {
    fn three_people_take_it_to_the_public(registry) {
        let served = Served::new(registry);
        let staff = Staff::new(&served);
        let (path, etag) = staff.draft(&served);
        let stranger = served.stranger();
        let publication = format!("{path}/publication");
        let read = staff.monitor.get(&path).expect(200);
        assert_eq!((read.etag(), &read.json()["stage"]["state"]), (etag.clone(), &json!("draft")));
        step(&staff.publisher, &publication).problem(409, "illegal_step");
        step(&staff.monitor, &format!("{path}/approval")).problem(428, "if_match_required");
        let other = Asked::new("POST", format!("{path}/approval")).if_match("\"00\"");
        staff.monitor.send(&other).problem(412, "stale");
        for stage in ["draft", "approved"] {
            assert_eq!(stranger.get("/summaries").expect(200).json()["items"], json!([]), "{stage}");
            stranger.get("/summaries/1").problem(404, "not_found");
            if stage == "draft" {
                staff.approve(&path, &etag);
            }
        }
        // Neither whoever composed it nor whoever approved it.
        let refused = step(&staff.author, &publication).problem(409, "illegal_step");
        assert!(text(&refused, "detail").contains("drafted"), "{refused}");
        step(&staff.monitor, &publication).problem(403, "not_allowed");
        let published = step(&staff.publisher, &publication).expect(200);
        assert_eq!(published.header("location"), Some("/api/v1/summaries/1"));
        step(&staff.publisher, &publication).problem(409, "illegal_step");
        let listed = stranger.get("/summaries").expect(200).json();
        assert_eq!((&listed["items"][0]["number"], &listed["items"][0]["withdrawn"]), (&json!(1), &Value::Null));
    }

    fn the_public_reads_it_without_sign_in_and_keeps_it(registry) {
        let served = Served::new(registry);
        let staff = Staff::new(&served);
        let (path, etag) = staff.draft(&served);
        staff.approve(&path, &etag);
        step(&staff.publisher, &format!("{path}/publication")).expect(200);
        let stranger = served.stranger();
        let read = stranger.get("/summaries/1").expect(200);
        // The public's version speaks of the content alone, an approver's of what could be learnt too.
        let etag = format!("\"{}\"", text(&staff.monitor.get(&path).expect(200).json(), "content_hash"));
        assert_eq!((read.etag(), read.header("content-type")), (etag.clone(), Some("application/json")));
        assert_eq!(read.header("cache-control"), Some("public, max-age=300"));
        assert_eq!(read.json(), staff.monitor.get(&path).expect(200).json()["content"]);
        // Two cases of one centre: nothing of them may be seen, not even that there are two.
        let whole = read.text();
        assert!(!whole.contains("S07") && !whole.contains("\"shown\":2"), "{whole}");
        for tag in [etag.as_str(), &format!("W/{etag}"), &format!("\"00\", {etag}")] {
            let again = stranger.send(&Asked::new("GET", "/summaries/1").header("if-none-match", tag)).expect(304);
            assert_eq!((again.text(), again.etag()), (String::new(), etag.clone()));
        }
        stranger.send(&Asked::new("GET", "/summaries/1").header("if-none-match", "\"00\"")).expect(200);
        // What a member reads is not kept by anyone on the way.
        assert_eq!(staff.monitor.get("/summaries/1").expect(200).header("cache-control"), Some("no-store"));
        let page = stranger.send(&Asked::new("GET", "//summaries/1").header("accept", "text/html")).expect(200);
        assert!(page.text().contains("not for the care of an individual"), "{}", page.text());
    }

    fn a_withdrawn_summary_says_why_and_nothing_else(registry) {
        let served = Served::new(registry);
        let staff = Staff::new(&served);
        let (path, etag) = staff.draft(&served);
        withdraw(&staff.monitor, &path, "not yet published").problem(409, "illegal_step");
        staff.approve(&path, &etag);
        step(&staff.publisher, &format!("{path}/publication")).expect(200);
        for silent in ["", "  ", "x"] {
            assert_eq!(only_mend(&withdraw(&staff.monitor, &path, silent).problem(422, "must_be_mended")).0, "/reason");
        }
        withdraw(&staff.monitor, &path, "Mr John Smith 12/03/1961 called").problem(422, "must_be_mended");
        let reason = "one centre counted <b>twice</b>";
        withdraw(&staff.monitor, &path, reason).expect(200);
        withdraw(&staff.monitor, &path, reason).problem(409, "illegal_step");
        let stranger = served.stranger();
        let gone = stranger.send(&Asked::new("GET", "/summaries/1").header("if-none-match", etag)).problem(410, "withdrawn");
        assert!(text(&gone, "detail").contains(reason), "{gone}");
        let listed = stranger.get("/summaries").expect(200).json();
        assert_eq!(text(&listed["items"][0], "withdrawn"), reason);
        for page in ["//summaries", "//summaries/1"] {
            let page = stranger.send(&Asked::new("GET", page).header("accept", "text/html"));
            assert!(matches!(page.status, 200 | 410), "{}", page.status);
            let shown = page.text();
            assert!(shown.contains("&lt;b&gt;twice&lt;/b&gt;") && !shown.contains("<b>twice"), "{shown}");
        }
    }

    fn a_summary_is_of_a_cut_that_exists(registry) {
        let served = Served::new(registry);
        let staff = Staff::new(&served);
        let never = json!({ "data_cut": "0197a1b2-c3d4-7e5f-8a9b-0c1d2e3f4a5b" });
        staff.author.post("/summary-drafts", &never).problem(404, "not_found");
        let problem = staff.author.post("/summary-drafts", &json!({ "data_cut": "latest" })).problem(422, "must_be_mended");
        assert_eq!(only_mend(&problem).0, "/data_cut");
        staff.monitor.get("/summary-drafts/0197a1b2-c3d4-7e5f-8a9b-0c1d2e3f4a5b").problem(404, "not_found");
        assert_eq!(staff.monitor.get("/summary-drafts").expect(200).json()["items"], json!([]));
    }
}
