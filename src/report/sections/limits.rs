//! What these data can't say: every absence in the results, with its reason and remedy.

use crate::base::words::{base, fill, rates, report as words};
use crate::base::{Documented, Header, document};
use crate::report::labels::{clause, field, listed, sentence};
use crate::report::part::Part;
use crate::study::Study;

/// One reason and what is missing for it.
struct Missing {
    reason: String,
    help: String,
    what: Vec<String>,
}

pub fn parts(study: &Study) -> Option<Vec<Part>> {
    let mut missing: Vec<Missing> = Vec::new();
    let header = study.header();
    gather(&header, &study.rates, &mut missing);
    gather(&header, &study.cause, &mut missing);
    gather(&header, &study.triage, &mut missing);
    match &study.options {
        Ok(options) => gather(&header, options, &mut missing),
        Err(refused) => note(&mut missing, &refused.problem, &refused.way_out, "options"),
    }
    if let Some(orders) = &study.orders {
        gather(&header, orders, &mut missing);
    }
    let said: Vec<String> = missing.iter().map(said).collect();
    (!said.is_empty()).then(|| vec![Part::Text(words::LIMITS_INTRO.into()), Part::List(said)])
}

/// The absences of a document, as its JSON says them.
fn gather<T: Documented>(header: &Header, result: &T, missing: &mut Vec<Missing>) {
    let document = document(header, result);
    for absent in document["absent"].as_array().into_iter().flatten() {
        let text = |key: &str| absent[key].as_str().unwrap_or_default().to_string();
        if text("reason") == rates::POWER_NOT_ASKED {
            continue; // no limit of the data
        }
        note(missing, &text("reason"), &text("would_help"), &format!("{}.{}", T::SCHEMA, text("field")));
    }
}

/// Notes a missing field under its reason.
fn note(missing: &mut Vec<Missing>, reason: &str, help: &str, path: &str) {
    let what = field(path);
    match missing.iter_mut().find(|m| m.reason == reason && m.help == help) {
        Some(m) if m.what.contains(&what) => {}
        Some(m) => m.what.push(what),
        None => missing.push(Missing { reason: reason.into(), help: help.into(), what: vec![what] }),
    }
}

fn said(missing: &Missing) -> String {
    let what = listed(&missing.what);
    if missing.reason == base::LATER {
        return fill(words::LIMITS_LATER, &[("what", &what)]);
    }
    let about = fill(words::LIMITS_ABOUT, &[("what", &what), ("reason", &clause(&missing.reason))]);
    let help = fill(words::LIMITS_HELP, &[("help", &clause(&missing.help))]);
    if missing.help.is_empty() { sentence(&about) } else { format!("{} {help}", sentence(&about)) }
}
