//! Sentences of the room `intake`: every kind of trouble with a grower's files, as one table.

/// A kind of trouble: its code, what is wrong, what would be right. `{name}` is where a value goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Kind {
    pub code: &'static str,
    pub message: &'static str,
    pub hint: &'static str,
}

macro_rules! kinds {
    ($list:ident: $($(#[$doc:meta])* $name:ident = $code:literal, $message:literal, $hint:literal;)+) => {
        $($(#[$doc])* pub const $name: Kind = Kind { code: $code, message: $message, hint: $hint };)+
        /// The table of these kinds, in the order in which they are written here.
        pub const $list: &[Kind] = &[$($name),+];
    };
}

// Input that can't be used at all (exit status 3).
kinds! { UNUSABLE:
    NOT_A_FOLDER = "not_a_folder", "{folder} is not a folder that can be read",
        "give the folder that holds block.toml";
    NO_BLOCK_TOML = "no_block_toml", "there is no block.toml in {folder}",
        "`fullstand new {folder}` starts a block folder; a folder of block folders serves as an estate";
    UNREADABLE_FILE = "unreadable_file", "the file can't be read: {why}",
        "save it again from the program that wrote it, or as CSV";
    TOO_LARGE = "too_large", "the file is larger than {limit} GiB", "split the estate into one folder per block";
    TWO_SOURCES = "two_sources", "the table {table} stands in {first} and in {second}",
        "keep one of the two in this folder and move the other elsewhere";
    BAD_TOML = "bad_toml", "this line can't be read: {why}",
        "a line reads key = value; text and labels stand in quotation marks, decimals have a point";
    NO_NAME = "no_name", "the block has no name", "write name = \"the block's name\" at the top";
    BAD_VALUE = "bad_value", "the value of {key} is {found}, where {wanted} is expected", "write {key} = {example}";
    UNKNOWN_ASSUMPTION = "unknown_assumption", "there is no assumption \"{key}\"", "{nearest}; `fullstand assumptions` lists them all";
    CONFLICTING_KEYS = "conflicting_keys", "{first} and {second} are both given", "keep one of the two";
    BAD_FACTOR = "bad_factor", "\"{name}\" can't be the name of a further column to analyse",
        "choose a name that stands for nothing else here and has no + in it";
    REPEATED_NAME = "repeated_name", "{what} \"{name}\" stands here twice", "keep one of the two, or rename one";
    MISSING_COLUMN = "missing_column", "the column {column} is missing; the headings read: {headings}",
        "head the column {column}, or say in block.toml under [columns]: {column} = \"your heading\"";
    DUPLICATE_COLUMN = "duplicate_column", "two columns are headed {heading}", "rename or remove one of them";
    CANNOT_WRITE = "cannot_write", "{file} can't be written: {why}", "choose a folder in which files may be written";
    NO_REGISTER = "no_register", "there is neither vines.csv nor counts.csv",
        "list what was planted in vines.csv (row, position, variety), or count per row in counts.csv (row, planted, failed)";
    TOO_MANY_VINES = "too_many_vines", "more than {limit} vines are listed", "split the estate into one folder per block";
    INCOMPLETE_STEP = "incomplete_step", "a step that does \"{action}\" needs {missing}", "add a line {missing} = {example}";
}

// A line that can't be used: set aside.
kinds! { SET_ASIDE:
    OPEN_QUOTE = "open_quote", "a quotation mark opens here and isn't closed",
        "close it, or remove it where it means inches";
    UNREADABLE_CHARACTERS = "unreadable_characters", "the line holds characters that are no text",
        "write the line again, or save the file as CSV UTF-8";
    TOO_MANY_CELLS = "too_many_cells", "there are {cells} cells under {headings} headings",
        "a comma inside a cell needs quotation marks around the cell; with decimal commas separate cells by semicolons";
    EMPTY_CELL = "empty_cell", "the cell {column} is empty", "fill in {column}";
    BAD_DATE = "bad_date", "the cell {column} is \"{found}\", which is not read as a date",
        "write it as 2025-05-14, or set date_format in block.toml (such as \"day.month.year\") if all tables write it so";
    UNLIKELY_DATE = "unlikely_date", "the cell {column} is {found}, a year outside {low} to {high}", "correct the year";
    BAD_NUMBER = "bad_number", "the cell {column} is \"{found}\", which is no number",
        "write digits with one decimal point or comma, no thousands mark and no unit";
    NOT_WHOLE = "not_whole", "the cell {column} is \"{found}\", which is no whole number from 0 up", "write a count such as 45";
    UNLIKELY_VALUE = "unlikely_value", "the cell {column} is {found}, outside {low} to {high}",
        "check the unit and the decimal mark; the bounds of {column} are part of the assumptions where they begin with check.";
    BAD_POSITION = "bad_position", "the cell {column} is \"{found}\", which is no position",
        "write a number from 1 to {most}, or a range such as 1-45 (if a spreadsheet made a date of it, format the column as text)";
    UNKNOWN_STATE = "unknown_state", "the state \"{found}\" isn't known",
        "the states are {known}; a word of your own can be named in block.toml under [values.state]";
    UNKNOWN_WORD = "unknown_word", "the cell {column} is \"{found}\", which isn't known",
        "the words are {known}; a word of your own can be named in block.toml under [values.{column}]";
    BAD_BATCH = "bad_batch", "the batch \"{found}\" names a part that is empty", "write L1|L3 for one of the two, or leave it empty";
    BAD_PLACE = "bad_place", "the cell {column} is \"{found}\", which is no place", "write row/position, such as 7/12";
    PAST_ROW_END = "past_row_end", "position {position} lies past the end of row {row}, which has {places} places",
        "correct the position, or places of the row in block.toml";
    NO_VINE_HERE = "no_vine_here", "position {position} of row {row} holds no vine, says block.toml (no_vine)",
        "correct the position, or the list no_vine";
    OVERLAPPING_RANGE = "overlapping_range", "row {row}, position {position} is already given by line {other}",
        "an exception stands below its range and is narrower; a replant has a later planted_on; else keep one of the lines";
    DUPLICATE = "duplicate", "the line says the same as line {other}", "remove one of them";
    RANGE_FOR_ONE = "range_for_one", "the cell {column} belongs to one vine, but the line is about {found}",
        "write one line per vine";
    HALF_COORDINATE = "half_coordinate", "only one of x_m and y_m is given", "give both, or neither";
    REMOVED_BEFORE_PLANTED = "removed_before_planted", "row {row}, position {position} is removed on {removed}, before it is planted on {planted}",
        "correct one of the dates";
    MOVED_FROM_NOWHERE = "moved_from_nowhere", "no vine is recorded at {place} that could have been moved here by then",
        "correct moved_from or planted_on; the vine that was moved needs a line of its own where it first stood";
    MOVED_WITHOUT_DATE = "moved_without_date", "the vine was moved here from {place}, but nothing says when",
        "write the day of the move in planted_on";
    MOVED_AFTER_FAILURE = "moved_after_failure", "line {other} says that the vine at {place} was removed as {why}, so it can't have been moved here",
        "correct removed_why there, or moved_from here";
    NEVER_PLANTED = "never_planted", "no vine is recorded at row {row}, position {position}",
        "add it to the register, or correct the row or position";
    UNKNOWN_SURVEY_ROW = "unknown_survey_row", "no vine is recorded in row {row}", "add it to the register, or correct the row; the rows are {rows}";
    BEFORE_PLANTING = "before_planting", "row {row}, position {position} is looked at on {date}, before it was planted on {planted}",
        "correct surveyed_on, or planted_on in the register";
    LINES_DISAGREE = "lines_disagree", "row {row}, position {position} is in another state in line {other}, in the same walk",
        "keep the line that is right; if it was looked at twice, give each walk its label in the column walk";
    MEASURES_DIFFER = "measures_differ", "row {row}, position {position} is in the same state in line {other}, in the same walk, but measured otherwise; the state is used, and no measurement that differs",
        "keep the line that is right, or measure again";
    REST_OF_NOTHING = "rest_of_nothing", "row {row} had no vine on {date}", "correct the row or the date";
    BATCH_LISTED_TWICE = "batch_listed_twice", "batch {batch} already stands in line {other}", "give each delivery a name of its own";
    OVERLAPPING_COUNTS = "overlapping_counts", "row {row} is counted otherwise in line {other}, for the same vines on the same day",
        "keep the line that is right; tell them apart by a day or by a further column";
    COUNTS_IMPOSSIBLE = "counts_impossible", "the count {what} is {more}, more than {of}, which is {less}", "correct one of the two";
}

// Worth saying; nothing is set aside for it.
kinds! { FINDINGS:
    UNKNOWN_KEY = "unknown_key", "\"{key}\" isn't known here and is not used", "{nearest}";
    UNKNOWN_COLUMN = "unknown_column", "the column \"{column}\" isn't known and takes no part in the analysis",
        "{nearest}; to analyse it, name it in block.toml under factors";
    MORE_UNKNOWN_COLUMNS = "more_unknown_columns", "{n} more columns aren't known and take no part in the analysis",
        "to analyse one of them, name it in block.toml under factors";
    COLUMN_NOT_FOUND = "column_not_found", "no table has a column headed \"{heading}\", which block.toml names for {column}",
        "correct the heading under [columns]";
    FACTOR_WITHOUT_COLUMN = "factor_without_column", "the factor \"{factor}\" has no column, or an empty one; it is left out",
        "add a column headed {factor}, or take it from factors in block.toml";
    MIXED_ENCODING = "mixed_encoding", "from here on the letters are written in another encoding than before",
        "check the accented letters; save the file as CSV UTF-8";
    ROW_NOT_IN_LAYOUT = "row_not_in_layout", "row {row} isn't among the rows of block.toml; it is taken as the next row after them",
        "add it to rows under [layout], in its place across the block";
    WORKBOOKS_NOT_READ = "workbooks_not_read", "there are several workbooks here and none is called block.xlsx: {names}; none is read",
        "call the one that holds the tables block.xlsx";
    WORKBOOK_UNREADABLE = "workbook_unreadable", "the workbook can't be opened and is not read: {why}",
        "save it again without a password, or move it elsewhere if it holds no tables of this block";
    COUNTS_NOT_READ = "counts_not_read", "vines are listed one by one, so the counts per row are not read",
        "counts.csv stands instead of vines.csv; remove one of them";
    SURVEYS_NOT_READ = "surveys_not_read", "the block is counted per row, so the walks are not read",
        "walks need a list of the vines (vines.csv)";
    UNKNOWN_ROW = "unknown_row", "there is no row \"{row}\" in this block; nothing is done with it", "the rows are {rows}";
    OPTION_LEFT_OUT = "option_left_out", "the option \"{option}\" is left out: there is no {what} \"{name}\" in this block",
        "correct the step; {known}";
    UNDESCRIBED_MATERIAL = "undescribed_material", "the material \"{material}\" isn't described; its price, stand and crop are assumed",
        "describe it under [materials.\"{material}\"] ({nearest})";
    CLAIM_FOR_UNKNOWN_BATCH = "claim_for_unknown_batch", "terms are given for batch \"{batch}\", of which no vine is recorded",
        "check the name; the batches are {known}";
    REMOVAL_WITHOUT_DATE = "removal_without_date", "removed_why is given without removed_on; the vine counts as not removed",
        "write the day in removed_on";
    MOVED_WITHOUT_REMOVAL = "moved_without_removal", "the vine at {place} (line {other}) was moved here but isn't marked as removed there; it is taken as moved on {date}",
        "write removed_on and removed_why = moved in line {other}";
    MOVED_DIFFERS = "moved_differs", "the cell {column} differs from that of the vine at {place} (line {other}), which was moved here",
        "a moved vine keeps what it is; correct one of the lines";
    REPLANT_UNSEEN = "replant_unseen", "{places}: replanted, but the vine before was never seen failed or removed; its outcome is unknown",
        "write removed_on and removed_why for the vine before, or the walk that found it failed";
    ALIVE_AFTER_FAILED = "alive_after_failed", "{places}: alive, though found failed in an earlier walk; taken as alive (late buds do push)",
        "nothing, if it is so; else correct one of the lines";
    NO_BUDBURST_AFTER_ALIVE = "no_budburst_after_alive", "{places}: never grew, says this line, though seen alive in an earlier walk",
        "write died where a vine grew and then died";
    SEEN_AFTER_REMOVAL = "seen_after_removal", "{places}: looked at after its removal",
        "correct removed_on or surveyed_on, or add the replant to the register";
    RANGE_PARTLY_PLANTED = "range_partly_planted", "no vine is recorded at {missing} of the positions {found} of row {row}, the first at {position}; the others are used",
        "add them to the register, or correct the range";
    WALK_SPLIT = "walk_split", "a new walk begins on {date}, because row {row}, position {position} is looked at again",
        "if it is one walk, give all its lines the same label in the column walk";
    COUNTS_DONT_ADD_UP = "counts_dont_add_up", "{parts} make {sum}, but {whole} is {of}", "correct one of them";
}

pub const KNOWN_ROWS: &str = "the rows are {known}";
pub const KNOWN_BATCHES: &str = "the batches are {known}";
pub const PLACES_LOOK_SO: &str = "a place is \"row/position\", such as \"7/12\", and lies within its row";
pub const DID_YOU_MEAN: &str = "did you mean {nearest}?";
pub const NO_NEAREST: &str = "nothing here has a name like it";
pub const AND_MORE: &str = "{places} and {more} more";
pub const ROW_POSITION: &str = "row {row}, position {position}";
pub const SPAN: &str = "positions {first}-{last}";
pub const UNPACKS_TOO_LARGE: &str = "it unpacks to more than {most} MiB";
pub const BROKEN_INSIDE: &str = "its contents are damaged";

// What block.toml expects, for `BAD_VALUE`.
pub const A_TEXT: &str = "a text in quotation marks";
pub const A_NUMBER: &str = "a number from {low} to {high}";
pub const A_WHOLE: &str = "a whole number from {low} to {high}";
pub const A_FLAG: &str = "true or false";
pub const A_DATE: &str = "a date";
pub const A_LIST: &str = "a list in square brackets";
pub const A_SECTION: &str = "a section of its own";
pub const AN_AMOUNT: &str = "a number from 0 up, or { p10, p50, p90 } in rising order";
pub const A_RATE: &str = "a rate between 0 and 1, or { p10, p50, p90 } in rising order";
pub const ONE_OF: &str = "one of {known}";
pub const A_DATE_FORM: &str = "day, month and year in the order of the tables";

// The files of a new block folder.
pub const NEW_BLOCK_TOML: &str = r##"# The block. Lines that start with # are examples: take the # away and change them.
name = "{name}"
# currency = "EUR"                  # a label, never converted
# planted_on = 2025-05-14           # for vines without a date of their own
# factors = ["crew"]                # further columns of vines.csv to analyse
# date_format = "day.month.year"    # of the tables, where they don't write 2025-05-14

# [site]
# hemisphere = "north"              # or south

# [layout]
# row_spacing_m = 2.4               # or row_spacing_ft
# vine_spacing_m = 1.1              # or vine_spacing_ft
# training_height_cm = 85           # the wire that the trunk has to reach
# topped_at_cm = 120                # only if canes were cut there
# planted = "serpentine"            # or same_end, or unknown: the way the planters walked
# rows = ["1", "2", "2A", "3"]      # their order across the block
# [[layout.row]]                    # only where a row is special
# row = "12"
# places = 40
# offset_m = 3.3                    # of position 1 from the baseline
# gap_before_m = 6.0                # a track before this row
# no_vine = [12, 24]                # posts

# [columns]                         # our heading = your heading
# row = "Reihe"
# [values.state]                    # your word = ours
# "tot" = "dead"

# [claim."L3"]                      # the terms agreed for a batch; where they are silent nothing is assumed
# guaranteed = 0.95
# covers = ["no_budburst"]
# judged_by = 2025-09-30
# price_per_vine = 2.9
# cap_share = 0.05
# union_max_cm = 5
# condition_text = "as the contract says"
# [[claim."L3".notice]]
# after = "delivery"                # or planting, discovery
# days = 4
# working = true
# if_loss_over = 0.03

# [materials."same again"]          # what can be planted; a quantity is a number or { p10, p50, p90 }
# variety = "Kadarka"
# rootstock = "SO4"
# stock_type = "dormant"            # or green, potted
# price_per_vine = 2.9
# bundle = 25
# available_from = 2026-11-01
# order_by = 2026-03-01
# first_year_stand = { p10 = 0.82, p50 = 0.93, p90 = 0.98 }
# stand_from = "blend"              # or block (this block's own data), stated (the line above)
# mature_crop_kg = 2.4
# price_per_kg = { p10 = 0.9, p50 = 1.2, p90 = 1.5 }

# [goal]
# by = "present_value"              # or full_crop_year, evenness, cash_low_point
# [limits]
# cash = 6000
# full_by = 2031
# hours_per_winter = 120
# free_rows = ["23", "24"]

# [assumptions]                     # any default by its name, as `fullstand assumptions` lists them
# "labour.price_per_hour" = 22

# [[option]]                        # a course of action to be weighed beside the usual ones
# name = "Gather the living"
# [[option.step]]
# vines = "living"                  # or failed, weak, all; narrowed by rows, batch, places = ["7/12"]
# rows = ["23", "24"]
# do = "move"                       # or leave, replant, take_up, cut_back, clear, plant
# to = "failed"                     # for move: the places that receive
# material = "same again"           # for replant and plant
# winter = 0                        # this dormant season, or 1 the one after
"##;

// The sheet to carry through the rows.
pub const SHEET_TITLE: &str = "Walk sheet: {block}";
pub const SHEET_ROW: &str = "Row {row}";
pub const SHEET_NO_ROW: &str = "Row ____";
pub const SHEET_DAY: &str = "Day ______________";
pub const SHEET_BY: &str = "By ______________";
pub const SHEET_ORDER: &str = "Places {first} to {last}, in the order of walking";
pub const SHEET_REST: &str = "Circle one: all places left blank were looked at and are alive: yes / no";
pub const SHEET_POST: &str = "no vine";
pub const SHEET_KEY: &str = "What to write";
pub const SHEET_PART: &str = "sheet {part} of {of}";
/// Letter, state, and what it means in plain words.
pub const SHEET_STATES: [(&str, &str, &str); 7] = [
    ("A", "alive", "shoots of the grafted variety are green, or its wood is green under the bark"),
    ("N", "no_budburst", "never grew after planting"),
    ("D", "died", "grew, then died"),
    ("X", "dead", "dead, can't tell which of the two"),
    ("R", "scion_dead", "only the rootstock lives: shoots from below the union"),
    ("M", "missing", "no vine there"),
    ("?", "unsure", "looked at, can't tell; look again later"),
];
/// What to keep in mind on the walk (common practice, no source).
pub const SHEET_NOTES: [&str; 4] = [
    "One letter in each box; the line beside it is for a height in cm or a note.",
    "Where “yes” is circled, draw a line through the box of a vine that nobody looked at: that is unknown, never dead.",
    "Before calling a leafless vine dead, scratch the bark above the union: late buds do push.",
    "Wear eye protection where wire is strained or cut.",
];
