//! Leave the gaps: work on the living only.

use super::Standard;
use crate::base::words::options as words;

pub const OPTION: Standard =
    Standard { name: words::LEAVE_GAPS, what: words::LEAVE_GAPS_WHAT, steps: |_| Ok(Vec::new()) };
