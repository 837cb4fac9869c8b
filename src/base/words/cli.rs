//! Sentences of the command line.

pub const ABOUT: &str =
    "What went wrong in a newly planted vineyard block, what to do about it, what that costs and how sure we are";
pub const AFTER_HELP: &str = "Examples:
  fullstand demo                        write the invented demo block and its report
  fullstand new my-block                start a block folder, with a sheet to carry through the rows
  fullstand check my-block              what was read, what was set aside and why
  fullstand report my-block             everything as one HTML file
  fullstand order my-block --json       the same numbers for a script

Exit status: 0 done; 1 these data can't answer the question; 2 the command line is wrong; 3 the input is unusable.";

pub const DEMO: &str = "Write the invented demo block and its report; needs nothing";
pub const NEW: &str = "Start a block folder, with a sheet to print and carry through the rows";
pub const CHECK: &str = "What was read, what was set aside and why";
pub const RATES: &str = "Stand, take and vigour by clone, rootstock, row, batch and each declared factor";
pub const CAUSE: &str =
    "Whether failures follow a batch, a row, a place, several of them, or chance, or whether these data can't tell";
pub const TRIAGE: &str =
    "For every vine this winter: take up, cut back, replace, move, hold, look again; a work list by row";
pub const OPTIONS: &str = "What each option costs, when it first crops and when the block is fully productive";
pub const ORDER: &str = "How many vines to order to be sure of a full stand";
pub const CLAIM: &str = "The counts behind a nursery claim (the evidence pack comes in a later version)";
pub const SAMPLE: &str = "How many vines to dig, inspect or send to a laboratory (comes in a later version)";
pub const PLAN: &str = "Where to plant what, so that batch and place can be told apart (comes in a later version)";
pub const DUE: &str = "What to look at, write down, order or notify next (comes in a later version)";
pub const SAMPLE_LATER: &str = "How many vines to dig, inspect or send to a laboratory, and which, comes in a later version. Until then leave what is held standing, and keep its labels.";
pub const PLAN_LATER: &str = "Where to plant what, so that batch and place can be told apart next time, comes in a later version. Until then: no batch in one place only, two batches in every row.";
pub const DUE_LATER: &str = "What to look at, write down, order or notify next, with dates, comes in a later version. Until then: the days to order by are in `fullstand order`, those of your contract only in the contract.";
pub const COUNTS: &str = "The table of counts per cell that the models stand on";
pub const ASSUMPTIONS: &str = "Every default in force: name, value, unit, range, source";
pub const REPORT: &str = "All of it, as one HTML file";

pub const NO_WALK: &str = "no walk through the rows is recorded, so nothing is known of the vines";
pub const NO_WALK_HINT: &str = "walk the rows and write surveys.csv (`fullstand new` makes a sheet to carry), or counts.csv with row, planted, failed";
pub const NO_SUCH_WALK: &str = "no walk has a day on {date}";
pub const NO_SUCH_WALK_HINT: &str = "the walks recorded: {walks}";
pub const STRICT: &str = "{n} lines were set aside, and --strict asks for none";
pub const STRICT_HINT: &str = "`fullstand check` lists each with a way out";
pub const NO_SUCH_OPTION: &str = "there is no option named \"{name}\"";
pub const NO_SUCH_OPTION_HINT: &str = "the options: {names}";
pub const OPTION_ELSEWHERE: &str = "nothing: another block of the estate has it";
pub const NO_SUCH_BATCH: &str = "no vine of this block is of batch \"{name}\"";
pub const NO_SUCH_BATCH_HINT: &str = "the batches: {names}";
pub const VERIFY_LATER: &str = "there is no evidence pack to verify: packs come in a later version";
pub const NOT_WRITTEN: &str = "can't write {file}: {error}";
pub const NOT_WRITTEN_HINT: &str = "choose another folder with --out";
pub const NOT_THE_DEMO: &str = "{folder} exists and isn't a demo folder";
pub const NOT_THE_DEMO_HINT: &str = "name another: `fullstand demo FOLDER`";
pub const SET_ASIDE_NOTE: &str = "{n} lines were set aside; see {file}";
pub const WRITTEN: &str = "Written: {file}";
pub const OPEN_REPORT: &str = "The whole report: {file}";
pub const NOT_POOLED: &str = "this answer is not given over all blocks: each block has its own";
pub const NOT_POOLED_HELP: &str =
    "the answer of each block, or `fullstand rates` of the estate, which pools the blocks";
pub const SAME_BLOCK_NAME: &str = "two blocks of the estate are named \"{name}\", so their vines can't be told apart";
pub const SAME_BLOCK_NAME_HELP: &str = "a name of its own for each block, in its block.toml";
