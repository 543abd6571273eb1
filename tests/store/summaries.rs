//! A summary: three people, no way back, and the public sees what was published only.

use quietbeam::access::Permit;
use quietbeam::access::action::{ApproveSummary, DraftSummary, PublishSummary, TakeDataCut, WithdrawSummary};
use quietbeam::access::session::Caller;
use quietbeam::store::{NewSummary, PublicBody, PublicSummary, Refused, StoreError, sha256_hex};
use quietbeam_schema::access::{Membership, Role};
use quietbeam_schema::ids::{SummaryId, SummaryNumber};
use quietbeam_schema::summary::SummaryRefusal;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::Desk;
use quietbeam_tests::registry::Registry;

const CONTENT: &str = r#"{"cases":"≥ 11"}"#;
const LEARNT: &str = r#"{"seats":[],"rows":[]}"#;

/// What an approver signs: what it says and what could be learnt from it.
fn signed() -> String {
    let [content, learnt] = [CONTENT, LEARNT].map(|text| sha256_hex(text.as_bytes()));
    sha256_hex(format!("{content}\n{learnt}").as_bytes())
}

fn draft(registry: &Registry, society: &Caller) -> SummaryId {
    let cut = registry.store.write_blocking(Permit::<TakeDataCut>::for_operator("test"), |session| {
        match session.list_cuts()?.pop() {
            Some(cut) => Ok(cut),
            None => session.take_cut("cut"),
        }
    });
    let cut: Result<_, StoreError> = cut;
    let cut = cut.unwrap().id;
    let permit = society.permit::<DraftSummary>().unwrap();
    let new = NewSummary { cut, content: CONTENT.to_owned(), learnt: Some(LEARNT.to_owned()) };
    registry.store.write_blocking(permit, move |session| session.draft_summary(&new)).unwrap()
}

fn approve(registry: &Registry, monitor: &Caller, id: SummaryId) {
    let permit = monitor.permit::<ApproveSummary>().unwrap();
    registry.store.write_blocking(permit, move |session| session.approve_summary(id, &signed())).unwrap();
}

fn publish(registry: &Registry, society: &Caller, id: SummaryId) -> Result<SummaryNumber, StoreError> {
    let permit = society.permit::<PublishSummary>().unwrap();
    registry
        .store
        .write_blocking(permit, move |session| session.publish_summary(id))
        .map(|(number, _)| number)
}

fn published(registry: &Registry) -> Vec<PublicSummary> {
    registry.store.read_blocking(Permit::public(), |session| session.list_published()).unwrap()
}

fn people(registry: &Registry) -> Desk<'_> {
    let centre = registry.centre("S07");
    registry.cases(centre, 1);
    let desk = Desk::new(registry);
    desk.member("author", Role::Society, &[]);
    desk.member("society", Role::Society, &[]);
    desk.member("monitor", Role::Monitor, &[]);
    desk
}

on_both_stores! {
    fn the_public_sees_what_was_published_and_nothing_else(registry) {
        let desk = people(registry);
        let [author, society, monitor] = ["author", "society", "monitor"].map(|name| desk.caller(name));
        let (first, second) = (draft(registry, &author), draft(registry, &author));
        assert_eq!(published(registry), []);
        assert!(matches!(
            publish(registry, &society, first),
            Err(StoreError::Refused(Refused::Summary(SummaryRefusal::WrongStage { stage: "draft", .. })))
        ));
        approve(registry, &monitor, first);
        assert_eq!(published(registry), []);
        assert_eq!(publish(registry, &society, first).unwrap(), SummaryNumber(1));
        approve(registry, &monitor, second);
        assert_eq!(publish(registry, &society, second).unwrap(), SummaryNumber(2));
        let seen = published(registry);
        assert_eq!(seen.iter().map(|summary| summary.number.0).collect::<Vec<_>>(), [2, 1]);
        assert_eq!(seen[0].body, PublicBody::InForce(CONTENT.to_owned()));

        let reason = "a centre sent wrong counts".parse().unwrap();
        let permit = monitor.permit::<WithdrawSummary>().unwrap();
        registry.store.write_blocking(permit, move |session| session.withdraw_summary(first, &reason, Some(SummaryNumber(2)))).unwrap();
        let find = |number| registry.store.read_blocking(Permit::public(), move |session| session.find_published(SummaryNumber(number)));
        let PublicBody::Withdrawn { reason, corrected_by, .. } = find(1).unwrap().body else { panic!("still in force") };
        assert_eq!((reason.as_str(), corrected_by), ("a centre sent wrong counts", Some(SummaryNumber(2))));
        assert!(matches!(find(3), Err(StoreError::Absent("safety summary"))));
    }

    fn whoever_composed_cannot_publish(registry) {
        let desk = people(registry);
        let author = desk.caller("author");
        let id = draft(registry, &author);
        approve(registry, &desk.caller("monitor"), id);
        assert!(matches!(
            publish(registry, &author, id),
            Err(StoreError::Refused(Refused::Summary(SummaryRefusal::OwnDraft)))
        ));
    }

    fn whoever_approved_cannot_publish_after_changing_roles(registry) {
        let desk = people(registry);
        let id = draft(registry, &desk.caller("author"));
        let turncoat = desk.member("turncoat", Role::Monitor, &[]);
        approve(registry, &desk.caller("turncoat"), id);
        let membership = Membership::new(Role::Society, [].into()).unwrap();
        registry
            .store
            .write_blocking(Permit::<quietbeam::access::action::ManageMembers>::for_operator("test"), move |session| {
                session.change_membership(turncoat, &membership)
            })
            .unwrap();
        assert!(matches!(
            publish(registry, &desk.caller("turncoat"), id),
            Err(StoreError::Refused(Refused::Summary(SummaryRefusal::OwnApproval)))
        ));
    }

    fn what_was_approved_can_no_longer_be_changed(registry) {
        let desk = people(registry);
        let [author, society, monitor] = ["author", "society", "monitor"].map(|name| desk.caller(name));
        let id = draft(registry, &author);
        let permit = monitor.permit::<ApproveSummary>().unwrap();
        registry.store.write_blocking(permit, move |session| session.approve_summary(id, "another hash")).unwrap_err();
        approve(registry, &monitor, id);
        let refuses = |statement: &str| {
            let error = registry.raw().run(statement).expect_err(statement);
            assert!(error.contains("safety_summary is"), "{statement}: {error}");
        };
        let attacks = [
            "UPDATE safety_summary SET content = '{}'",
            "UPDATE safety_summary SET content_hash = ''",
            "UPDATE safety_summary SET learnt = NULL",
            "UPDATE safety_summary SET state = 'published', learnt = '{}'",
            "UPDATE safety_summary SET state = 'draft'",
            "UPDATE safety_summary SET state = 'published', content = '{}'",
            "DELETE FROM safety_summary",
        ];
        attacks.iter().for_each(|statement| refuses(statement));
        publish(registry, &society, id).unwrap();
        attacks.iter().for_each(|statement| refuses(statement));
        refuses("UPDATE safety_summary SET number = 7");
        refuses("UPDATE safety_summary SET state = 'withdrawn', number = 7");
        refuses("UPDATE safety_summary SET state = 'approved'");
    }

    fn what_was_refused_stays_so(registry) {
        let desk = people(registry);
        let [author, society, monitor] = ["author", "society", "monitor"].map(|name| desk.caller(name));
        let refuse = |id: SummaryId| {
            let permit = society.permit::<PublishSummary>().unwrap();
            registry.store.write_blocking(permit, move |session| {
                session.refuse_summary(id, "{}".to_owned(), "somebody could work out a count".to_owned())
            })
        };
        let id = draft(registry, &author);
        approve(registry, &monitor, id);
        let refused = refuse(id).unwrap();
        assert_eq!((refused.stage.name(), refused.learnt.as_deref()), ("refused", Some("{}")));
        let read = registry.store.read_blocking(society.permit::<PublishSummary>().unwrap(), move |session| session.find_summary(id));
        assert_eq!(read.unwrap(), refused);
        assert_eq!(published(registry), []);
        assert!(matches!(
            publish(registry, &society, id),
            Err(StoreError::Refused(Refused::Summary(SummaryRefusal::WrongStage { stage: "refused", .. })))
        ));
        refuse(id).unwrap_err();
        for statement in [
            "UPDATE safety_summary SET state = 'approved'",
            "UPDATE safety_summary SET state = 'published', number = 1",
            "UPDATE safety_summary SET learnt = NULL",
            "UPDATE safety_summary SET content = '{}'",
        ] {
            let error = registry.raw().run(statement).expect_err(statement);
            assert!(error.contains("safety_summary is"), "{statement}: {error}");
        }
    }

    fn two_publications_at_once_get_two_numbers(registry) {
        let desk = people(registry);
        let [author, society, monitor] = ["author", "society", "monitor"].map(|name| desk.caller(name));
        let ids: Vec<SummaryId> = (0..6).map(|_| draft(registry, &author)).collect();
        ids.iter().for_each(|id| approve(registry, &monitor, *id));
        let numbers: Vec<SummaryNumber> = std::thread::scope(|scope| {
            let society = &society;
            let jobs: Vec<_> = ids.iter().map(|id| scope.spawn(move || publish(registry, society, *id))).collect();
            jobs.into_iter().filter_map(|job| job.join().unwrap().ok()).collect()
        });
        let seen = published(registry);
        assert!(!numbers.is_empty());
        assert_eq!(seen.len(), numbers.len());
        // No gaps and nothing twice, however many had to try again.
        assert_eq!(seen.last().map(|summary| summary.number.0), Some(1));
        assert_eq!(seen.first().map(|summary| summary.number.0), Some(seen.len() as i64));
    }
}
