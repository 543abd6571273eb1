//! Questions: asked by rules and by monitors, answered by the centre.

use quietbeam::access::action::{AnswerQuery, ChangeCase, CloseQuery, ListQueries, RaiseQuery, SubmitCase};
use quietbeam::access::session::Caller;
use quietbeam::access::{Permit, Policed};
use quietbeam::store::{
    Change, Followed, Found, NewCase, PageRequest, QueryFilter, QueryRow, Question, Refused, StoreError,
};
use quietbeam_schema::access::Role;
use quietbeam_schema::data_query::{Closing, QueryRefusal, Stage};
use quietbeam_schema::ids::CaseCode;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::Desk;
use quietbeam_tests::registry::{Registry, content};

fn found(rule: &str, field: &str, sentence: &str) -> Found {
    Found { rule: rule.to_owned(), field: Some(field.to_owned()), sentence: sentence.to_owned() }
}

fn submit(registry: &Registry, code: CaseCode, findings: Vec<Found>) -> Followed {
    let permit = Permit::<SubmitCase>::for_operator("test");
    let followed: Result<_, StoreError> = registry.store.write_blocking(permit, move |session| {
        let saved = session.save_new_case(NewCase { code, content: content(1) })?;
        session.follow_findings(&[(saved, findings)])
    });
    followed.unwrap()
}

fn change(registry: &Registry, code: CaseCode, expected_revision: i64, findings: Vec<Found>) -> Followed {
    let permit = Permit::<ChangeCase>::for_operator("test");
    let followed: Result<_, StoreError> = registry.store.write_blocking(permit, move |session| {
        let reason = "typing error".parse().unwrap();
        let content = content(expected_revision as usize + 10);
        let saved = session.change_case(Change { code, expected_revision, content, reason })?;
        session.follow_findings(&[(saved, findings)])
    });
    followed.unwrap()
}

fn list(registry: &Registry, caller: &Caller) -> Vec<QueryRow> {
    let permit = caller.permit::<ListQueries>().unwrap();
    let page = registry
        .store
        .read_blocking(permit, |session| session.list_queries(&QueryFilter::default(), PageRequest::first()));
    page.unwrap().rows
}

fn permit<A: Policed>(caller: &Caller) -> Permit<A> {
    caller.permit().unwrap()
}

on_both_stores! {
    fn rules_ask_once_and_settle_when_they_pass(registry) {
        let centre = registry.centre("S07");
        let code = registry.codes(centre, 1)[0];
        let dose = || found("dose_high", "air_kerma", "Is 9,000 mGy right?");
        let time = || found("time_long", "skin_to_skin_min", "Is 600 min right?");
        assert_eq!(submit(registry, code, vec![dose(), time()]), Followed { raised: 2, settled: 0 });
        assert_eq!(change(registry, code, 1, vec![dose(), time()]), Followed { raised: 0, settled: 0 });
        assert_eq!(change(registry, code, 2, vec![dose()]), Followed { raised: 0, settled: 1 });
        assert_eq!(change(registry, code, 3, vec![dose(), time()]), Followed { raised: 1, settled: 0 });
        assert_eq!(registry.raw().count("data_query"), 3);
        assert_eq!(registry.raw().count("data_query WHERE state = 'open'"), 2);
    }

    fn an_accepted_answer_is_not_asked_again_but_a_new_value_is(registry) {
        let centre = registry.centre("S07");
        let code = registry.codes(centre, 1)[0];
        let desk = Desk::new(registry);
        desk.member("coordinator", Role::Coordinator, &[centre]);
        desk.member("monitor", Role::Monitor, &[]);
        let (coordinator, monitor) = (desk.caller("coordinator"), desk.caller("monitor"));
        let store = &registry.store;
        submit(registry, code, vec![found("dose_high", "air_kerma", "Is 9,000 mGy right?")]);
        let id = list(registry, &coordinator)[0].query.id;
        let answered = store.write_blocking(permit::<AnswerQuery>(&coordinator), move |session| {
            session.answer_query(id, "Yes, a long redo.")
        });
        assert!(matches!(answered.unwrap().query.stage, Stage::Answered { .. }));
        store.write_blocking(permit::<CloseQuery>(&monitor), move |session| session.accept_answer(id, None)).unwrap();
        let again = change(registry, code, 1, vec![found("dose_high", "air_kerma", "Is 9,000 mGy right?")]);
        assert_eq!(again.raised, 0);
        let other = change(registry, code, 2, vec![found("dose_high", "air_kerma", "Is 9,900 mGy right?")]);
        assert_eq!(other.raised, 1);
    }

    fn a_monitor_asks_and_takes_back_and_reopens(registry) {
        let centre = registry.centre("S07");
        let code = registry.cases(centre, 1)[0];
        let desk = Desk::new(registry);
        desk.member("monitor", Role::Monitor, &[]);
        let monitor = desk.caller("monitor");
        let store = &registry.store;
        let question = Question { code, field: None, sentence: "Was echo used throughout?".to_owned() };
        let id = store.write_blocking(permit::<RaiseQuery>(&monitor), move |session| session.raise_query(question)).unwrap();
        let early = store.write_blocking(permit::<CloseQuery>(&monitor), move |session| session.accept_answer(id, None));
        let Err(StoreError::Refused(Refused::Query(QueryRefusal::WrongStage { stage, .. }))) = early else {
            panic!("accepted without an answer")
        };
        assert_eq!(stage, "open");
        let back = store.write_blocking(permit::<CloseQuery>(&monitor), move |session| session.take_back_query(id, "asked twice"));
        let Stage::Closed { why, .. } = back.unwrap().query.stage else { panic!("not closed") };
        assert_eq!(why, Closing::TakenBack("asked twice".to_owned()));
        store.write_blocking(permit::<CloseQuery>(&monitor), move |session| session.reopen_query(id, "Asked again.")).unwrap();
        assert!(matches!(list(registry, &monitor)[0].query.stage, Stage::Open { again: Some(_) }));
        assert_eq!(registry.raw().count("audit_event WHERE subject = 'data_query'"), 3);
    }

    fn another_centre_does_not_see_the_question(registry) {
        let (own, other) = (registry.centre("S07"), registry.centre("S08"));
        let code = registry.codes(own, 1)[0];
        submit(registry, code, vec![found("dose_high", "air_kerma", "Is 9,000 mGy right?")]);
        let desk = Desk::new(registry);
        desk.member("own", Role::Coordinator, &[own]);
        desk.member("other", Role::Coordinator, &[other]);
        let id = list(registry, &desk.caller("own"))[0].query.id;
        let stranger = desk.caller("other");
        assert_eq!(list(registry, &stranger), []);
        let answer = registry.store.write_blocking(permit::<AnswerQuery>(&stranger), move |session| session.answer_query(id, "yes"));
        assert!(matches!(answer, Err(StoreError::Absent("query"))));
    }

    fn of_two_answers_at_once_none_gets_lost(registry) {
        let centre = registry.centre("S07");
        let code = registry.codes(centre, 1)[0];
        submit(registry, code, vec![found("dose_high", "air_kerma", "Is 9,000 mGy right?")]);
        let id = registry
            .store
            .read_blocking(Permit::<ListQueries>::for_operator("test"), |session| {
                session.list_queries(&QueryFilter::default(), PageRequest::first())
            })
            .unwrap()
            .rows[0]
            .query
            .id;
        let answered: usize = std::thread::scope(|scope| {
            let answers: Vec<_> = (0..10)
                .map(|number| {
                    scope.spawn(move || {
                        let permit = Permit::<AnswerQuery>::for_operator("test");
                        let text = format!("answer {number}");
                        registry.store.write_blocking(permit, move |session| session.answer_query(id, &text)).is_ok()
                    })
                })
                .collect();
            answers.into_iter().map(|answer| usize::from(answer.join().unwrap())).sum()
        });
        assert!(answered >= 1);
        assert_eq!(registry.raw().count("audit_event WHERE deed = 'query_answered'"), answered as u64);
    }
}
