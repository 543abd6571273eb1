//! The routes of the API: who may call each, and a request that is fine.

use quietbeam::intake::{FileKind, header};
use quietbeam_schema::access::Action;
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::sample;
use quietbeam_tests::server::Asked;
use serde_json::{Value, json};

/// Who may call a route.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Who {
    /// Also who has not signed in.
    Everyone,
    /// Whoever the policy gives this action to.
    May(Action),
}

/// A route with a request for the things named.
pub(crate) struct Route {
    pub(crate) method: &'static str,
    pub(crate) template: &'static str,
    pub(crate) who: Who,
    /// What it names belongs to a centre.
    pub(crate) of_centre: bool,
    /// Its success ends the caller's sign-in.
    pub(crate) ends_sign_in: bool,
    /// Its success takes the thing away that it names.
    pub(crate) takes_away: bool,
    pub(crate) call: fn(&Things) -> Asked,
}

/// Things that requests name.
pub(crate) struct Things {
    pub(crate) centre: String,
    pub(crate) centre_etag: String,
    pub(crate) member: String,
    pub(crate) member_etag: String,
    pub(crate) code: String,
    pub(crate) query: String,
    pub(crate) event: String,
    pub(crate) plan: String,
    pub(crate) approval: String,
    pub(crate) cut: String,
    pub(crate) comparison: String,
    pub(crate) summary: String,
    pub(crate) summary_etag: String,
    pub(crate) import_job: String,
    pub(crate) import_job_etag: String,
    pub(crate) import_job_to_drop: String,
    pub(crate) refresh_token: String,
}

impl Things {
    /// Names of the right form that nothing has.
    pub(crate) fn nowhere() -> Self {
        let id = "0197a1b2-c3d4-7e5f-8a9b-0c1d2e3f4a5b";
        let code = quietbeam_schema::ids::CaseCode::from_random([77; 16]).to_string();
        let [member, query, plan, approval, cut, comparison, summary] = [id; 7].map(str::to_owned);
        let [import_job, import_job_to_drop] = [id; 2].map(str::to_owned);
        let [centre_etag, member_etag, summary_etag, import_job_etag] = ["\"r1\""; 4].map(str::to_owned);
        let (centre, refresh_token) = ("S99".to_owned(), "00".to_owned());
        Self {
            centre,
            centre_etag,
            member,
            member_etag,
            code,
            query,
            event: "00".repeat(32),
            plan,
            approval,
            cut,
            comparison,
            summary,
            summary_etag,
            import_job,
            import_job_etag,
            import_job_to_drop,
            refresh_token,
        }
    }
}

const fn route(method: &'static str, template: &'static str, who: Who, call: fn(&Things) -> Asked) -> Route {
    Route { method, template, who, of_centre: false, ends_sign_in: false, takes_away: false, call }
}

impl Route {
    const fn of_centre(mut self) -> Self {
        self.of_centre = true;
        self
    }

    const fn takes_away(mut self) -> Self {
        self.takes_away = true;
        self
    }

    const fn ends_sign_in(mut self) -> Self {
        self.ends_sign_in = true;
        self
    }
}

fn read(path: String) -> Asked {
    Asked::new("GET", path)
}

fn make(path: impl Into<String>, body: &Value) -> Asked {
    Asked::new("POST", path).new_key().json(body)
}

fn put(path: String, body: &Value) -> Asked {
    Asked::new("PUT", path).json(body)
}

fn line(things: &Things) -> String {
    format!("/centres/{}/screening-log/2026Q3/svt", things.centre)
}

/// An approval that stands in nobody's way.
pub(crate) fn approval_body() -> Value {
    json!({ "kind": "ethics_approval", "reference": "board file 7", "valid_from": "2010-01-01", "valid_until": "2099-12-31" })
}

fn centre_body() -> Value {
    json!({ "name": "House on the hill", "kind": "academic", "annual_volume": "200_499" })
}

fn form(asked: Asked) -> Asked {
    asked.files(&[("cases", b"period,strategy_intended\n")])
}

/// A file of one case that can be taken.
pub(crate) fn cases() -> Vec<u8> {
    let case = sample::with(sample::conventional_case(), json!({ "follow_up": null }));
    let mut writer = csv::Writer::from_writer(Vec::new());
    let columns = header(FileKind::Cases);
    let cell = |column: &String| match &case[column] {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        Value::Array(codes) => codes.iter().filter_map(Value::as_str).collect::<Vec<_>>().join(";"),
        other => other.to_string(),
    };
    writer.write_record(&columns).unwrap();
    writer.write_record(columns.iter().map(cell)).unwrap();
    writer.into_inner().unwrap()
}

use Action as A;
use Who::{Everyone, May};

pub(crate) const ROUTES: &[Route] = &[
    route("POST", "/sessions", Everyone, |_| {
        Asked::new("POST", "/sessions").json(&json!({ "sign_in_name": "target", "password": PASSWORD }))
    }),
    route("POST", "/sessions/refresh", Everyone, |on| {
        Asked::new("POST", "/sessions/refresh").json(&json!({ "refresh_token": on.refresh_token }))
    }),
    route("GET", "/dictionary", Everyone, |_| read("/dictionary".to_owned())),
    route("GET", "/dictionary/workbook", Everyone, |_| read("/dictionary/workbook".to_owned())),
    route("GET", "/summaries", Everyone, |_| read("/summaries".to_owned())),
    route("GET", "/me", May(A::KeepOwnAccount), |_| read("/me".to_owned())),
    route("GET", "/members", May(A::ManageMembers), |_| read("/members".to_owned())),
    route("POST", "/members", May(A::ManageMembers), |_| {
        let body = json!({ "sign_in_name": "new.one", "printed_name": "New One", "role": "monitor", "password": PASSWORD });
        make("/members", &body)
    }),
    route("GET", "/members/{id}", May(A::ManageMembers), |on| read(format!("/members/{}", on.member))),
    route("PUT", "/members/{id}/membership", May(A::ManageMembers), |on| {
        put(format!("/members/{}/membership", on.member), &json!({ "role": "society" }))
            .if_match(&on.member_etag)
    }),
    route("PUT", "/members/{id}/enabled", May(A::ManageMembers), |on| {
        put(format!("/members/{}/enabled", on.member), &json!({ "enabled": false })).if_match(&on.member_etag)
    }),
    route("GET", "/centres", May(A::ReadCentres), |_| read("/centres".to_owned())),
    route("POST", "/centres", May(A::ManageCentres), |_| {
        let mut body = centre_body();
        body["code"] = json!("S42");
        make("/centres", &body)
    }),
    route("GET", "/centres/{code}", May(A::ReadCentres), |on| read(format!("/centres/{}", on.centre)))
        .of_centre(),
    route("PUT", "/centres/{code}", May(A::ManageCentres), |on| {
        put(format!("/centres/{}", on.centre), &centre_body()).if_match(&on.centre_etag)
    }),
    route("GET", "/centres/{code}/rooms", May(A::ReadCentres), |on| {
        read(format!("/centres/{}/rooms", on.centre))
    })
    .of_centre(),
    route("PUT", "/centres/{code}/rooms/{room}", May(A::ManageCentres), |on| {
        put(
            format!("/centres/{}/rooms/R1", on.centre),
            &json!({ "kap_unit": "uGy.m2", "air_kerma_shown": true }),
        )
    }),
    route("POST", "/centres/{code}/case-codes", May(A::IssueCaseCodes), |on| {
        make(format!("/centres/{}/case-codes", on.centre), &json!({ "number": 2 }))
    })
    .of_centre(),
    route("GET", "/centres/{code}/approvals", May(A::ReadCentres), |on| {
        read(format!("/centres/{}/approvals", on.centre))
    })
    .of_centre(),
    route("POST", "/centres/{code}/approvals", May(A::ManageCentres), |on| {
        make(format!("/centres/{}/approvals", on.centre), &approval_body())
    }),
    route("POST", "/centres/{code}/approvals/{id}/withdrawal", May(A::ManageCentres), |on| {
        Asked::new("POST", format!("/centres/{}/approvals/{}/withdrawal", on.centre, on.approval))
            .json(&json!({ "reason": "recorded twice" }))
    }),
    route("GET", "/screening-log", May(A::ReadScreeningLog), |_| read("/screening-log".to_owned())),
    route("PUT", "/centres/{code}/screening-log/{period}/{group}", May(A::WriteScreeningLog), |on| {
        let body =
            json!({ "counts": { "performed": 9, "eligible": 9, "submitted": 9 }, "reason": "counted again" });
        put(line(on), &body).if_match("\"r1\"")
    })
    .of_centre(),
    route(
        "POST",
        "/centres/{code}/screening-log/{period}/{group}/signature",
        May(A::SignScreeningLog),
        |on| {
            Asked::new("POST", line(on) + "/signature")
                .if_match("\"r2\"")
                .json(&json!({ "password": PASSWORD }))
        },
    )
    .of_centre(),
    route("POST", "/cases/check", May(A::SubmitCase), |_| {
        Asked::new("POST", "/cases/check").json(&sample::zero_fluoroscopy_case())
    }),
    route("POST", "/dose-reports", May(A::SubmitCase), |_| {
        let report = include_bytes!("../intake/dose_reports/single_plane.dcm");
        Asked::new("POST", "/dose-reports").bytes("application/dicom", report.as_slice())
    }),
    route("POST", "/cases", May(A::SubmitCase), |on| {
        make(format!("/cases?centre={}", on.centre), &sample::conventional_case())
    })
    .of_centre(),
    route("GET", "/cases", May(A::ReadCase), |_| read("/cases".to_owned())),
    route("GET", "/cases/{code}", May(A::ReadCase), |on| read(format!("/cases/{}", on.code))).of_centre(),
    route("PUT", "/cases/{code}", May(A::ChangeCase), |on| {
        let case = sample::with(sample::zero_fluoroscopy_case(), json!({ "bmi": 26.1 }));
        put(format!("/cases/{}", on.code), &json!({ "case": case, "reason": "weighed again" }))
            .if_match("\"r1\"")
    })
    .of_centre(),
    route("GET", "/cases/{code}/history", May(A::ReadHistory), |on| {
        read(format!("/cases/{}/history", on.code))
    })
    .of_centre(),
    route("PUT", "/cases/{code}/follow-up", May(A::RecordFollowUp), |on| {
        let seen =
            sample::with(sample::zero_fluoroscopy_case()["follow_up"].clone(), json!({ "fu30_day": 34 }));
        put(format!("/cases/{}/follow-up", on.code), &json!({ "follow_up": seen, "reason": "day was wrong" }))
            .if_match("\"r2\"")
    })
    .of_centre(),
    route("POST", "/imports", May(A::ImportFiles), |on| {
        form(Asked::new("POST", format!("/imports?dry_run=true&centre={}", on.centre)))
    })
    .of_centre(),
    route("GET", "/exports/cases", May(A::ExportCases), |on| {
        read(format!("/exports/cases?format=json&centre={}", on.centre))
    })
    .of_centre(),
    route("GET", "/imports", May(A::ImportFiles), |_| read("/imports".to_owned())),
    route("POST", "/import-jobs", May(A::ImportFiles), |on| {
        let path = format!("/import-jobs?centre={}", on.centre);
        Asked::new("POST", path).new_key().files(&[("cases", &cases())])
    })
    .of_centre(),
    route("GET", "/import-jobs", May(A::ImportFiles), |_| read("/import-jobs".to_owned())),
    route("GET", "/import-jobs/{id}", May(A::ImportFiles), |on| {
        read(format!("/import-jobs/{}", on.import_job))
    })
    .of_centre(),
    route("POST", "/import-jobs/{id}/answers", May(A::ImportFiles), |on| {
        let path = format!("/import-jobs/{}/answers", on.import_job);
        Asked::new("POST", path).if_match(&on.import_job_etag).json(&json!({ "leave_out": true }))
    })
    .of_centre(),
    route("POST", "/import-jobs/{id}/store", May(A::ImportFiles), |on| {
        let path = format!("/import-jobs/{}/store", on.import_job);
        Asked::new("POST", path).if_match(&on.import_job_etag).json(&json!({ "accept_good_rows": true }))
    })
    .of_centre(),
    route("DELETE", "/import-jobs/{id}", May(A::ImportFiles), |on| {
        Asked::new("DELETE", format!("/import-jobs/{}", on.import_job_to_drop))
    })
    .of_centre()
    .takes_away(),
    route("GET", "/queries", May(A::ListQueries), |_| read("/queries".to_owned())),
    route("POST", "/queries", May(A::RaiseQuery), |on| {
        make("/queries", &json!({ "case_code": on.code, "sentence": "Was the beam really off?" }))
    }),
    route("GET", "/queries/{id}", May(A::ListQueries), |on| read(format!("/queries/{}", on.query)))
        .of_centre(),
    route("POST", "/queries/{id}/answer", May(A::AnswerQuery), |on| {
        Asked::new("POST", format!("/queries/{}/answer", on.query))
            .json(&json!({ "answer": "Yes, weighed again." }))
    })
    .of_centre(),
    route("POST", "/queries/{id}/accept", May(A::CloseQuery), |on| {
        Asked::new("POST", format!("/queries/{}/accept", on.query))
    }),
    route("POST", "/queries/{id}/reopen", May(A::CloseQuery), |on| {
        Asked::new("POST", format!("/queries/{}/reopen", on.query))
            .json(&json!({ "sentence": "Weighed when?" }))
    }),
    route("POST", "/queries/{id}/take-back", May(A::CloseQuery), |on| {
        Asked::new("POST", format!("/queries/{}/take-back", on.query))
            .json(&json!({ "reason": "asked by mistake" }))
    }),
    route("GET", "/adjudication/events", May(A::JudgeEvents), |_| read("/adjudication/events".to_owned())),
    route("POST", "/adjudication/events/{event}/judgement", May(A::JudgeEvents), |on| {
        let said = json!({ "ruling": "major", "sentence": "it needed drainage" });
        make(format!("/adjudication/events/{}/judgement", on.event), &said)
    }),
    route("GET", "/adjudication/progress", May(A::ReadJudgements), |_| {
        read("/adjudication/progress".to_owned())
    }),
    route("POST", "/plans", May(A::RegisterPlan), |_| make("/plans", &quietbeam_tests::plan::plan())),
    route("GET", "/plans", May(A::ReadPlans), |_| read("/plans".to_owned())),
    route("GET", "/plans/{id}", May(A::ReadPlans), |on| read(format!("/plans/{}", on.plan))),
    route("POST", "/plans/{id}/amendments", May(A::RegisterPlan), |on| {
        let mut plan = quietbeam_tests::plan::plan();
        plan["level"] = json!(0.99);
        make(format!("/plans/{}/amendments", on.plan), &json!({ "plan": plan, "reason": "a stricter level" }))
    }),
    route("GET", "/data-cuts", May(A::ReadDataCuts), |_| read("/data-cuts".to_owned())),
    route("POST", "/data-cuts", May(A::TakeDataCut), |_| make("/data-cuts", &json!({ "name": "second" }))),
    route("GET", "/data-cuts/{id}", May(A::ReadDataCuts), |on| read(format!("/data-cuts/{}", on.cut))),
    route("GET", "/data-cuts/{id}/rows", May(A::ExportDeidentified), |on| {
        read(format!("/data-cuts/{}/rows?profile=year_only", on.cut))
    }),
    route("POST", "/data-cuts/{id}/comparisons", May(A::RunComparison), |on| {
        make(format!("/data-cuts/{}/comparisons", on.cut), &json!({}))
    }),
    route("GET", "/data-cuts/{id}/comparisons", May(A::ReadComparisons), |on| {
        read(format!("/data-cuts/{}/comparisons", on.cut))
    }),
    route("GET", "/comparisons/{id}", May(A::ReadComparisons), |on| {
        read(format!("/comparisons/{}", on.comparison))
    }),
    route("GET", "/comparisons/{id}/report", May(A::ReadComparisons), |on| {
        read(format!("/comparisons/{}/report", on.comparison))
    }),
    route("GET", "/comparisons/{id}/recheck", May(A::ExportDeidentified), |on| {
        read(format!("/comparisons/{}/recheck", on.comparison))
    }),
    route("GET", "/comparisons/{id}/checklist", May(A::ReadComparisons), |on| {
        read(format!("/comparisons/{}/checklist", on.comparison))
    }),
    route("PUT", "/comparisons/{id}/checklist/{item}", May(A::WriteReport), |on| {
        put(
            format!("/comparisons/{}/checklist/23", on.comparison),
            &json!({ "text": "No funding, no conflicts of interest." }),
        )
    }),
    route("GET", "/summary-drafts", May(A::ReadSummaryDrafts), |_| read("/summary-drafts".to_owned())),
    route("POST", "/summary-drafts", May(A::DraftSummary), |on| {
        make("/summary-drafts", &json!({ "data_cut": on.cut }))
    }),
    route("GET", "/summary-drafts/{id}", May(A::ReadSummaryDrafts), |on| {
        read(format!("/summary-drafts/{}", on.summary))
    }),
    route("POST", "/summary-drafts/{id}/approval", May(A::ApproveSummary), |on| {
        Asked::new("POST", format!("/summary-drafts/{}/approval", on.summary)).if_match(&on.summary_etag)
    }),
    route("POST", "/summary-drafts/{id}/publication", May(A::PublishSummary), |on| {
        Asked::new("POST", format!("/summary-drafts/{}/publication", on.summary))
    }),
    route("GET", "/summaries/{number}", Everyone, |_| read("/summaries/1".to_owned())),
    route("POST", "/summary-drafts/{id}/withdrawal", May(A::WithdrawSummary), |on| {
        Asked::new("POST", format!("/summary-drafts/{}/withdrawal", on.summary))
            .json(&json!({ "reason": "a centre counted twice" }))
    }),
    route("GET", "/calculations", May(A::Calculate), |_| read("/calculations".to_owned())),
    route("POST", "/calculations/{method}", May(A::Calculate), |_| {
        Asked::new("POST", "/calculations/wilson").json(&json!({ "columns": ["x", "n"], "rows": [[3, 120]] }))
    }),
    route("GET", "/audit", May(A::ReadAudit), |_| read("/audit".to_owned())),
    route("PUT", "/me/password", May(A::KeepOwnAccount), |_| {
        put("/me/password".to_owned(), &json!({ "present": PASSWORD, "new": PASSWORD }))
    })
    .ends_sign_in(),
    route("DELETE", "/sessions/current", May(A::KeepOwnAccount), |_| {
        Asked::new("DELETE", "/sessions/current")
    })
    .ends_sign_in(),
];
