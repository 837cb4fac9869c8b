//! The published works that the results stand on.

use crate::base::source;
use crate::report::part::Part;
use crate::study::Study;

pub fn parts(study: &Study) -> Option<Vec<Part>> {
    let mut keys = study.rates.sources.clone();
    keys.extend(&study.cause.sources);
    keys.extend(&study.triage.sources);
    keys.extend(study.options.iter().flat_map(|o| &o.sources));
    keys.extend(study.orders.iter().flat_map(|o| &o.sources));
    let works: Vec<String> = source::list(&keys).iter().map(|w| w.citation.to_string()).collect();
    (!works.is_empty()).then(|| vec![Part::List(works)])
}
