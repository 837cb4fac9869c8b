//! The questions that are answered with one document per block.

use super::args::Global;
use super::failure::{Failure, NO_SUCH_BATCH, NO_SUCH_OPTION};
use crate::base::words::{base as base_words, cli as words, fill};
use crate::base::{Documented, Header, Known, document};
use crate::intake::{self, Folder, Reading};
use crate::study::{self, Settings, Study};
use crate::tally::{self, Tally};
use crate::{cause, claim, options, order, rates, report, triage};
use serde::Serialize;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// What a question asks beside the folder.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    pub option: Option<String>,
    pub batch: Option<String>,
    /// The difference in stand to be told.
    pub power: Option<f64>,
    /// Where a block has no such option or batch.
    pub lacking: Lacking,
}

/// What a block answers that hasn't what is asked for by name.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Lacking {
    #[default]
    Refuse,
    /// Nothing of it: another block of the estate has it.
    Nothing,
}

/// A block read, with the run's settings: what every answer starts from.
pub struct Ready<'a> {
    pub reading: &'a Reading,
    pub settings: &'a Settings,
    pub asked: &'a Asked,
}

/// A question: its document, and the sections of the report that say the same in words.
pub struct Question {
    pub document: fn(&Ready) -> Result<Value, Failure>,
    pub words: Words,
    /// The document over all blocks of an estate, where the question has one.
    pub pooled: Option<Pooled>,
}

/// The document over all blocks of an estate, or why there is none.
pub type Pooled = fn(&Estate) -> Result<Known<Value>, Failure>;

impl Question {
    const fn new(document: fn(&Ready) -> Result<Value, Failure>, words: Words) -> Self {
        Question { document, words, pooled: None }
    }

    const fn pooled(self, pooled: Pooled) -> Self {
        Question { pooled: Some(pooled), ..self }
    }
}

/// The blocks of an estate read, with the run's settings.
pub struct Estate<'a> {
    pub name: &'a str,
    pub readings: &'a [Reading],
    pub settings: &'a Settings,
}

/// How a question is answered in words.
pub enum Words {
    /// By these sections of the report.
    Sections(&'static [&'static str]),
    /// By a sentence that says what comes in a later version.
    Later(&'static str),
    /// By a table of its own.
    Text(fn(&Ready) -> Result<String, Failure>),
}

pub const CHECK: Question = Question::new(check_document, Words::Text(check_text));
pub const RATES: Question = Question::new(rates_document, Words::Sections(&["rates", "stocks"])).pooled(pooled_rates);
pub const CAUSE: Question = Question::new(cause_document, Words::Sections(&["pattern"]));
pub const TRIAGE: Question = Question::new(triage_document, Words::Sections(&["work"]));
pub const OPTIONS: Question = Question::new(options_document, Words::Sections(&["options"]));
pub const ORDER: Question = Question::new(order_document, Words::Sections(&["order"]));
pub const CLAIM: Question = Question::new(claim_document, Words::Text(claim_text));
pub const SAMPLE: Question = Question::new(sample_document, Words::Later(words::SAMPLE_LATER));
pub const PLAN: Question = Question::new(plan_document, Words::Later(words::PLAN_LATER));
pub const DUE: Question = Question::new(due_document, Words::Later(words::DUE_LATER));
pub const COUNTS: Question = Question::new(counts_document, Words::Text(counts_text));
pub const ASSUMPTIONS: Question = Question::new(assumptions_document, Words::Sections(&["assumptions"]));

/// The document of a block, or of an estate with one document per block and one over all.
pub fn documents(question: &Question, folder: &Path, global: &Global, asked: &Asked) -> Result<Value, Failure> {
    let settings = Settings { power: asked.power, ..global.settings() };
    match intake::find(folder)? {
        Folder::Block(folder) => {
            (question.document)(&Ready { reading: &read(&folder, global)?, settings: &settings, asked })
        }
        Folder::Estate(name, folders) => {
            let readings = read_each(&folders, global)?;
            let blocks = of_each(&folders, &readings, &settings, asked, question.document)?;
            let estate = Estate { name: &name, readings: &readings, settings: &settings };
            let none = || Ok(Known::absent(words::NOT_POOLED, words::NOT_POOLED_HELP));
            let pooled = question.pooled.map_or_else(none, |pooled| pooled(&estate))?;
            Ok(estate_document(&name, blocks, pooled))
        }
    }
}

/// The documents of an estate's blocks, and the one over all or why there is none.
pub fn estate_document(estate: &str, blocks: Vec<Value>, pooled: Known<Value>) -> Value {
    let absent =
        pooled.why().map(|why| json!({ "field": "pooled", "reason": why.reason, "would_help": why.would_help }));
    let absent: Vec<Value> = absent.into_iter().collect();
    json!({ "estate": estate, "blocks": blocks, "pooled": pooled.value(), "absent": absent })
}

/// The same in words.
pub fn texts(question: &Question, folder: &Path, global: &Global, asked: &Asked) -> Result<String, Failure> {
    let settings = Settings { power: asked.power, ..global.settings() };
    let one = |ready: &Ready| text(question, ready);
    match intake::find(folder)? {
        Folder::Block(folder) => one(&Ready { reading: &read(&folder, global)?, settings: &settings, asked }),
        Folder::Estate(_, folders) => {
            let readings = read_each(&folders, global)?;
            Ok(of_each(&folders, &readings, &settings, asked, one)?.join("\n"))
        }
    }
}

fn read_each(folders: &[PathBuf], global: &Global) -> Result<Vec<Reading>, Failure> {
    folders.iter().map(|folder| read(folder, global).map_err(|failure| failure.in_block(folder))).collect()
}

/// The answer of each block of an estate; a failure names its block. What is asked for by name, one block must have.
fn of_each<T>(
    folders: &[PathBuf],
    readings: &[Reading],
    settings: &Settings,
    asked: &Asked,
    answer: impl Fn(&Ready) -> Result<T, Failure>,
) -> Result<Vec<T>, Failure> {
    let nothing = Asked { lacking: Lacking::Nothing, ..asked.clone() };
    let one = |reading: &Reading, asked: &Asked| answer(&Ready { reading, settings, asked });
    let first: Vec<Result<T, Failure>> = readings.iter().map(|reading| one(reading, asked)).collect();
    let somewhere = first.iter().any(Result::is_ok);
    let again = |((given, folder), reading): ((Result<T, Failure>, &PathBuf), &Reading)| match given {
        Err(failure) if somewhere && failure.is_about_a_name() => one(reading, &nothing),
        given => given.map_err(|failure| failure.in_block(folder)),
    };
    first.into_iter().zip(folders).zip(readings).map(again).collect()
}

fn text(question: &Question, ready: &Ready) -> Result<String, Failure> {
    match question.words {
        Words::Text(text) => text(ready),
        Words::Later(sentence) => {
            (question.document)(ready)?;
            Ok(report::sentence_text(&ready.reading.block.name, sentence, super::write::width()))
        }
        Words::Sections(sections) => {
            (question.document)(ready)?; // what can't be answered fails the same way as with --json
            let study = Study::run(ready.reading.clone(), ready.settings.clone());
            let mut study = study.map_err(|e| no_tally(&e, ready.reading))?;
            if let (Some(name), Ok(options)) = (&ready.asked.option, &study.options) {
                study.orders =
                    order::order(&study.block, &study.tally, study.rates.draws.as_ref(), options, Some(name));
            }
            Ok(report::text(&study, sections, super::write::width()))
        }
    }
}

/// Reads a folder, minding `--strict`.
pub fn read(folder: &Path, global: &Global) -> Result<Reading, Failure> {
    let reading = intake::read(folder)?;
    match reading.set_aside.is_empty() || !global.strict {
        true => Ok(reading),
        false => Err(Failure::strict(&reading.set_aside)),
    }
}

/// The failure that says which walks could have been asked for.
pub fn no_tally(reason: &tally::NoTally, reading: &Reading) -> Failure {
    Failure::no_tally(reason, &walk_days(reading))
}

fn walk_days(reading: &Reading) -> Vec<String> {
    match &reading.block.plants {
        crate::block::Plants::Vines(register) => register.walks.iter().map(|w| w.last_day.to_string()).collect(),
        crate::block::Plants::Counts(_) => Vec::new(),
    }
}

impl Ready<'_> {
    fn tally(&self) -> Result<Tally, Failure> {
        tally::tally(&self.reading.block, self.settings.survey).map_err(|e| no_tally(&e, self.reading))
    }

    fn header(&self, tally: &Tally) -> Header {
        study::header(&self.reading.block, tally, self.settings)
    }

    fn rates(&self, tally: &Tally) -> rates::Rates {
        let set_aside = self.reading.set_aside.len() as u64;
        rates::rates(tally, set_aside, &study::rates_config(self.settings, &self.reading.block), self.settings.seed)
    }

    /// Draws of the stands, for what is planted next.
    fn draws(&self, tally: &Tally) -> Option<rates::Draws> {
        rates::stand_draws(tally, &study::rates_config(self.settings, &self.reading.block), self.settings.seed)
    }

    fn options(&self, tally: &Tally, draws: Option<&rates::Draws>) -> Result<options::Options, Failure> {
        let block = &self.reading.block;
        let config = options::Config { draws: self.settings.draws };
        let walked = options::Walked { tally, draws, triage: &triage::triage(block, tally) };
        Ok(options::options(block, &walked, &config, self.settings.seed)?)
    }
}

fn check_document(ready: &Ready) -> Result<Value, Failure> {
    let block = &ready.reading.block;
    let header = Header {
        block: block.name.clone(),
        surveyed_on: tally::tally(block, ready.settings.survey).ok().and_then(|t| t.walk).map(|(_, last)| last),
        seed: ready.settings.seed,
        level: ready.settings.level,
    };
    Ok(document(&header, &ready.reading.check))
}

/// Says what was read, also where there is no walk to say more about.
fn check_text(ready: &Ready) -> Result<String, Failure> {
    Ok(report::check_text(&ready.reading.block.name, &ready.reading.check, super::write::width()))
}

fn rates_document(ready: &Ready) -> Result<Value, Failure> {
    let tally = ready.tally()?;
    Ok(document(&ready.header(&tally), &ready.rates(&tally)))
}

/// Over all blocks in one model; absent where two blocks have one name.
fn pooled_rates(estate: &Estate) -> Result<Known<Value>, Failure> {
    let tally_of = |r: &Reading| tally::tally(&r.block, estate.settings.survey).map_err(|e| no_tally(&e, r));
    let tallies: Vec<Tally> = estate.readings.iter().map(tally_of).collect::<Result<_, _>>()?;
    let blocks: Vec<(&Reading, &Tally)> = estate.readings.iter().zip(&tallies).collect();
    Ok(match study::pooled_rates(&blocks, estate.settings) {
        Ok((tally, rates)) => {
            Known::Value(document(&study::estate_header(estate.name, &tally, estate.settings), &rates))
        }
        Err(tally::NotPooled::SameName(name)) => {
            Known::absent(fill(words::SAME_BLOCK_NAME, &[("name", &name)]), words::SAME_BLOCK_NAME_HELP)
        }
    })
}

fn cause_document(ready: &Ready) -> Result<Value, Failure> {
    let tally = ready.tally()?;
    let config = study::cause_config(ready.settings, &ready.reading.block);
    Ok(document(&ready.header(&tally), &cause::cause(&tally, &config, ready.settings.seed)))
}

fn triage_document(ready: &Ready) -> Result<Value, Failure> {
    let tally = ready.tally()?;
    Ok(document(&ready.header(&tally), &triage::triage(&ready.reading.block, &tally)))
}

fn options_document(ready: &Ready) -> Result<Value, Failure> {
    let tally = ready.tally()?;
    Ok(document(&ready.header(&tally), &ready.options(&tally, ready.draws(&tally).as_ref())?))
}

fn order_document(ready: &Ready) -> Result<Value, Failure> {
    let tally = ready.tally()?;
    let draws = ready.draws(&tally);
    let options = ready.options(&tally, draws.as_ref())?;
    let name = ready.asked.option.as_deref();
    match order::order(&ready.reading.block, &tally, draws.as_ref(), &options, name) {
        Some(orders) => Ok(document(&ready.header(&tally), &orders)),
        None if ready.asked.lacking == Lacking::Nothing => {
            let reason = fill(words::NO_SUCH_OPTION, &[("name", &name.unwrap_or_default())]);
            let option = Known::absent(reason, words::OPTION_ELSEWHERE);
            let none = order::Orders { option, orders: Vec::new(), sources: Vec::new() };
            Ok(document(&ready.header(&tally), &none))
        }
        None => Err(no_such(
            NO_SUCH_OPTION,
            (words::NO_SUCH_OPTION, words::NO_SUCH_OPTION_HINT),
            name.unwrap_or_default(),
            options.options.iter().map(|o| o.name.clone()),
        )),
    }
}

fn claim_document(ready: &Ready) -> Result<Value, Failure> {
    let tally = ready.tally()?;
    Ok(document(&ready.header(&tally), &claim_of(ready, &tally)?))
}

fn claim_text(ready: &Ready) -> Result<String, Failure> {
    let claim = claim_of(ready, &ready.tally()?)?;
    Ok(report::claim_text(&ready.reading.block.name, &claim, super::write::width()))
}

fn claim_of(ready: &Ready, tally: &Tally) -> Result<claim::Claim, Failure> {
    let batch = ready.asked.batch.as_deref().unwrap_or_default();
    let (block, rates) = (&ready.reading.block, ready.rates(tally));
    match claim::claim(block, tally, &rates, batch) {
        Some(claim) => Ok(claim),
        None if ready.asked.lacking == Lacking::Nothing => Ok(claim::claim_of_none(block, &rates, batch)),
        None => {
            let batches = tally.factors.iter().filter(|f| f.name == "batch").flat_map(|f| f.levels.clone());
            Err(no_such(NO_SUCH_BATCH, (words::NO_SUCH_BATCH, words::NO_SUCH_BATCH_HINT), batch, batches))
        }
    }
}

/// Something was asked for by a name that isn't there.
fn no_such(
    code: &'static str,
    (message, hint): (&str, &str),
    name: &str,
    names: impl Iterator<Item = String>,
) -> Failure {
    let names = names.collect::<Vec<_>>().join(", ");
    Failure::cannot(code, fill(message, &[("name", &name)]), fill(hint, &[("names", &names)]))
}

fn counts_document(ready: &Ready) -> Result<Value, Failure> {
    let tally = ready.tally()?;
    let block = json!(ready.reading.block.name);
    let named = |mut record: serde_json::Map<String, Value>| {
        record.insert("block".into(), block.clone());
        record
    };
    Ok(json!(tally::records(&tally).into_iter().map(named).collect::<Vec<_>>()))
}

/// The table as CSV: what `counts.csv` may hold.
fn counts_text(ready: &Ready) -> Result<String, Failure> {
    let records = tally::records(&ready.tally()?);
    let mut lines = csv::Writer::from_writer(Vec::new());
    let heading = records.first().map(|r| r.keys().cloned().collect::<Vec<_>>()).unwrap_or_default();
    let _ = lines.write_record(&heading); // into memory: can't fail
    for record in &records {
        let _ = lines.write_record(record.values().map(plain));
    }
    Ok(lines.into_inner().map(|b| String::from_utf8_lossy(&b).into_owned()).unwrap_or_default())
}

/// A cell of the table: text as it is, null as nothing.
fn plain(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

fn assumptions_document(ready: &Ready) -> Result<Value, Failure> {
    Ok(json!(ready.reading.block.assumptions.list()))
}

/// The defaults, without a block.
pub fn default_assumptions(global: &Global) -> Result<String, Failure> {
    let assumptions = crate::base::Assumptions::default();
    match global.json {
        true => Ok(super::pretty(&json!(assumptions.list()))),
        false => Ok(report::assumptions_text(&assumptions, super::write::width())),
    }
}

/// Documents of parts that are not built yet: every field of the contract, absent with that reason.
macro_rules! later {
    ($function:ident, $name:ident, $schema:literal, $($field:ident),+) => {
        #[derive(Serialize)]
        struct $name { $($field: Known<Value>),+ }
        impl Documented for $name {
            const SCHEMA: &'static str = $schema;
        }
        fn $function(ready: &Ready) -> Result<Value, Failure> {
            let tally = ready.tally()?;
            let body = $name { $($field: Known::absent(base_words::LATER, base_words::LATER_HELP)),+ };
            Ok(document(&ready.header(&tally), &body))
        }
    };
}

later!(sample_document, Sample, "sample", population, sample, detects_share, confidence, vines);
later!(plan_document, Plan, "plan", layout, contrasts, against_plain);
later!(due_document, Due, "due", due);
