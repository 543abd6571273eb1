//! Pages for people, rendered by the server; they work without script. A page reads through
//! the same permits as the API, is made of `components` and `figures`, and stands in the
//! `frame`.

mod about;
mod account;
mod adjudication;
mod assets;
mod case;
mod case_codes;
mod cases;
mod centres;
mod comparisons;
pub(crate) mod components;
mod data_cuts;
mod desk;
mod entry;
mod figures;
mod follow_up;
pub(crate) mod form;
mod frame;
mod harm_charts;
mod help;
mod imports;
mod members;
#[cfg(feature = "pdf")]
mod on_paper;
mod our_picture;
mod plans;
pub(crate) mod public;
mod queries;
mod releases;
mod screening_log;
mod shown;
mod sign_in;
mod start;
mod starting;
mod trouble;
mod upload;
mod watching;
mod words;

use actix_web::web::ServiceConfig;

pub(crate) use frame::{answer, public_page, refusal};
pub(crate) use sign_in::sign_in_address;

/// Adds the pages. A longer path stands before a shorter one that would take it for a
/// parameter.
pub(crate) fn routes(config: &mut ServiceConfig) {
    #[cfg(feature = "pdf")]
    config.service(comparisons::report::as_pdf);
    config.configure(public::routes);
    config
        .service(start::start)
        .service(sign_in::sign_in_page)
        .service(sign_in::sign_in)
        .service(sign_in::sign_out)
        .service(desk::desk)
        .service(watching::watching)
        .service(adjudication::list)
        .service(adjudication::progress::look)
        .service(adjudication::one::look)
        .service(adjudication::one::send)
        .service(account::account)
        .service(account::keep)
        .service(cases::cases)
        .service(cases::take_out)
        .service(entry::beginning::new_case)
        .service(entry::beginning::begin)
        .service(entry::open)
        .service(entry::save)
        .service(case::history::history)
        .service(case::ask::asking_page)
        .service(case::ask::ask)
        .service(case::change::change_page)
        .service(case::change::change)
        .service(case::case)
        .service(case::answer::answer)
        .service(imports::start)
        .service(imports::bring)
        .service(imports::template)
        .service(imports::receipt::look)
        .service(imports::receipt::codes_as_text)
        .service(imports::job::marked)
        .service(imports::job::look)
        .service(imports::job::take_answers)
        .service(case_codes::case_codes)
        .service(case_codes::issue)
        .service(case_codes::as_text)
        .service(follow_up::follow_up)
        .service(follow_up::send)
        .service(queries::questions)
        .service(queries::many::send)
        .service(queries::one::one)
        .service(queries::one::send)
        .service(screening_log::screening_log)
        .service(our_picture::our_picture)
        .service(our_picture::published::published)
        .service(screening_log::sign::signature)
        .service(screening_log::sign::sign)
        .service(screening_log::enter::entry_page)
        .service(screening_log::enter::enter)
        .service(help::help)
        .service(assets::load);
    administration(config);
    investigation(config);
}

fn administration(config: &mut ServiceConfig) {
    config
        .service(members::list)
        .service(members::new_member)
        .service(members::add)
        .service(members::open_member)
        .service(members::change)
        .service(centres::list)
        .service(centres::new_centre)
        .service(centres::add)
        .service(centres::new_room)
        .service(centres::record_new_room)
        .service(centres::open_room)
        .service(centres::approvals::look)
        .service(centres::approvals::send)
        .service(centres::record_room)
        .service(centres::open_centre)
        .service(centres::change);
}

fn investigation(config: &mut ServiceConfig) {
    config
        .service(plans::list)
        .service(plans::outlook::show)
        .service(plans::write::new_plan)
        .service(plans::write::register)
        .service(plans::write::amendment)
        .service(plans::write::amend)
        .service(plans::one)
        .service(releases::list)
        .service(releases::compose::begin)
        .service(releases::compose::send)
        .service(releases::one::look)
        .service(releases::one::send)
        .service(data_cuts::list)
        .service(data_cuts::take)
        .service(data_cuts::one)
        .service(comparisons::list)
        .service(comparisons::compare)
        .service(comparisons::report::as_json)
        .service(comparisons::report::recheck)
        .service(comparisons::writing::write)
        .service(comparisons::report::open);
}
