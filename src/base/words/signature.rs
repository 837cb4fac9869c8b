//! Sentences about the signatures of causes: what is consistent with what, and what to look at. Never a diagnosis.

// Where a statement comes from.
pub const COMMON_PRACTICE: &str = "common practice, no source";
pub const FROM_MEMORY: &str = "from memory";

// Kinds of failure, asked about.
pub const NEVER_GREW: &str = "vines that never grew";
pub const DIED_LATER: &str = "vines that grew and then died";
pub const MISSING: &str = "missing vines";
pub const KIND_BY_BATCH: &str =
    "Do {kind} differ between batches more than if the planted runs had been given their batches anew?";
pub const KIND_BY_ROW: &str =
    "Do {kind} differ between rows more than if the planted runs had been dealt over the rows anew?";
pub const KIND_BY_EDGE: &str = "Do {kind} differ between the edge of the block and its inside more than if the planted runs had been dealt to them anew?";
pub const KIND_BY_PLACE: &str =
    "Do {kind} stand beside each other, along or across the rows, more often than if they had been dealt out anew?";
pub const IN_BANDS: &str = "the levels lie in bands across the rows, so that a hollow would be taken for their doing";
pub const IN_BANDS_HELP: &str = "next time, bundles planted in no fixed order";
pub const ONE_ARRANGEMENT: &str = "the planted runs can be given their levels in one way only";
pub const ONE_ARRANGEMENT_HELP: &str = "next time, several runs of each level";
pub const ONE_VALUE_PLACE: &str = "every way to deal these vines out gives as many neighbours";
pub const ONE_VALUE_PLACE_HELP: &str = "more vines of this kind seen, or a later walk";

// What the block shows.
/// Factors that growers don't declare.
pub const NOT_DECLARED: &[&str] = &["variety", "clone", "rootstock", "batch", "row", "edge", "order"];
pub const DIFFERS: &str = "failures differ {what} ({p})";
pub const DIFFERS_NOT: &str = "no sign that failures differ {what} ({p})";
pub const BETWEEN_BATCHES: &str = "between batches";
pub const BETWEEN_LEVELS: &str = "by {factor}";
pub const BETWEEN_DAYS: &str = "between planting days";
pub const BATCHES_NOT_COMPARED: &str =
    "whether failures follow the batch: these batches can't be compared, or no batch is recorded";
pub const NOTHING_DECLARED: &str = "who planted, with which machine, and on which valve: no such column to compare";
pub const ONE_DAY: &str = "planting days: one day only, none recorded, or days that can't be compared";
pub const NO_PLACES: &str = "where in the block the failures stand: no places to compare";
pub const ODD_ROWS: &str = "more failed in {rows} than the same batches elsewhere, and chance, explain";
pub const THE_ROW: &str = "row";
pub const THE_ROWS: &str = "rows";
pub const ALONG_ONLY: &str =
    "failed vines stand beside each other along the rows ({along}), not across them ({across})";
pub const ALONG_AND_ACROSS: &str =
    "failed vines stand beside each other along the rows ({along}) and across them ({across}), not in single rows";
pub const NOT_ALONG: &str = "failed vines don't stand beside each other along the rows more than by chance ({along})";
pub const PATCHES: &str =
    "failed vines stand in patches: beside each other in any direction ({p}) and across the rows ({across})";
pub const SCATTERED: &str = "failed vines are scattered: no more of them beside each other than by chance ({p})";
pub const NO_GROUND: &str = "low or wet ground: no heights, soil or standing water are recorded by place";
pub const NO_EDGE: &str = "the edge of the block: no places to compare with the inside";
pub const MORE_AT_EDGE: &str = "more failed at the edge of the block than inside ({edge} and {inside}, {p})";
pub const NOT_MORE_AT_EDGE: &str =
    "no sign that more failed at the edge of the block than inside ({edge} and {inside}, {p})";
pub const MOST_NEVER_GREW: &str = "most failures never grew: {never} never did, {died} grew and then died";
pub const MOST_DIED_LATER: &str = "most failures grew and then died: {died} did, {never} never grew";
pub const KIND_NOT_TOLD: &str = "whether the vines never grew or died later: no failure is told as either";
pub const UNION_OPENS: &str = "the union moves or is open on {n} of {of} failed vines tested";
pub const UNION_NOT_TESTED: &str = "the union: tested with the thumb on none of the failed vines";
pub const HEIGHT_OFF: &str =
    "the union is buried or more than 10 cm above the soil on {n} of {of} failed vines measured";
pub const HEIGHT_NOT_MEASURED: &str = "the height of the union: measured on none of the failed vines";
pub const BUDS_SWELLED: &str = "the buds of {n} of {of} failed vines had begun to swell";
pub const STAGE_NOT_RECORDED: &str = "how far the buds had come: no stage recorded for failed vines";
pub const ROOTSTOCK_ALIVE: &str = "the rootstock lives under a dead scion on {n} of {of} failed vines";
pub const ROOTSTOCK_NOT_SEEN: &str =
    "whether the rootstock lives: seen alive under a dead scion on no vine, or not looked at";
pub const MORE_UNGUARDED: &str = "more failed without a guard ({a} of {n}) than with one ({b} of {m}, {p})";
pub const UNGUARDED_ALIKE: &str =
    "no sign that more failed without a guard ({a} of {n}) than with one ({b} of {m}, {p})";
pub const GUARD_NOT_RECORDED: &str = "guards: not recorded, or the same on all vines";
pub const NONE_MISSING: &str = "no vine is missing";
pub const MANY_MISSING: &str = "{n} of {of} failures are missing vines";
pub const LIVING_WEAK: &str = "{n} of {of} living vines looked at for it are weak";
pub const VIGOUR_NOT_RECORDED: &str = "how strong the living vines are: neither the wire nor a class recorded";
pub const NO_DATES: &str = "whether a winter lies between planting and this walk: no dates";
pub const WINTER_BETWEEN: &str = "a winter lies between planting and this walk ({days} days)";
pub const NO_WINTER_BETWEEN: &str = "no winter lies between planting and this walk ({days} days)";

// The causes: what a grower calls them, and what they leave behind.
pub const DRYING_IN_STORE: &str = "drying out or heating before planting";
pub const DRYING_IN_STORE_SAYS: &str = "Vines never break, or break a little and stop; roots dry and brown, bark tan under the nail. Goes by lot, pallet and days in store; without order within a day's planting.";
pub const UNION_FAILURE: &str = "a union that didn't take";
pub const UNION_FAILURE_SAYS: &str = "Vines break weakly, wilt with the first heat, snap at the tie; the union opens under the thumb while the rootstock lives. Goes by batch, without order within it, the same in every row and soil.";
pub const WOOD_AND_ROOT_DISEASE: &str = "black foot, Petri disease and other diseases of young wood and roots";
pub const WOOD_AND_ROOT_DISEASE_SAYS: &str = "Late, weak, uneven growth; black sunken spots on roots, dark spots or streaks in the rootstock's wood. May arrive with vines or wait in the ground, and is worse in wet, compacted ground.";
pub const WATERLOGGING: &str = "standing water";
pub const WATERLOGGING_SAYS: &str = "Yellow vines that stall in early summer; fine roots dead, soil sour and blue-grey. Patches in low ground and wheel ruts, whatever the batch.";
pub const DRIPLINE: &str = "a failed dripline, or drought";
pub const DRIPLINE_SAYS: &str = "Vines grow, then wilt from midsummer; soil around the roots is dry. Stretches along one row, behind one emitter or on one valve.";
pub const SPRING_FROST: &str = "frost after bud break";
pub const SPRING_FROST_SAYS: &str =
    "Buds that had swelled turn brown after one night; side buds may push. Low pockets, all batches at the same stage.";
pub const WINTER_COLD: &str = "winter cold";
pub const WINTER_COLD_SAYS: &str = "No break the next spring, buds dead without having swelled; or a normal break and collapse with the first heat. Cold pockets, late growers, unions left bare.";
pub const ANIMALS: &str = "animals";
pub const ANIMALS_SAYS: &str =
    "Shoots cut clean at a slant or torn, bark gnawed, vines pulled out. Edges, near cover, where guards are missing.";
pub const PLANTING: &str = "how they were planted: roots turned up, shallow, or in a smeared hole";
pub const PLANTING_SAYS: &str = "Weak rather than dead, wilting in late summer; roots turned up or circling. Goes by crew, machine or day, not by batch.";
pub const HERBICIDE: &str = "weed spray on green bark or leaves";
pub const HERBICIDE_SAYS: &str = "One to four weeks after a spray: burnt, split bark, red veins or cupped leaves. Sides of rows, vines without a guard, or fading from one edge.";
pub const UNION_HEIGHT: &str = "a union buried or left too high";
pub const UNION_HEIGHT_SAYS: &str =
    "Weak vines, or roots from the scion. Goes by crew or row. Some terms of sale ask for a union below a height.";
pub const SOIL: &str = "what lives in replanted soil: nematodes, root rots";
pub const SOIL_SAYS: &str = "Slow, patchy growth where vines or trees stood before; galls, white fans, or nothing to see on the roots. Patches, whatever the batch.";
pub const TAKEN: &str = "vines taken, or pulled out by machines";
pub const TAKEN_SAYS: &str = "A clean hole or nothing at all; near roads, headlands and row ends.";

// Checks.
pub const CHECK_PAPERS: &str = "Lay the store log, delivery note, planting days, crews, frost nights, sprays and watering beside the map of failures";
pub const FINDS_STORE: &str = "failures go with days or warmth in store";
pub const FINDS_FROST_NIGHT: &str = "a night of frost after the buds had moved";
pub const FINDS_SPRAY: &str = "a spray one to four weeks before the vines failed";
pub const FINDS_COLD_NIGHT: &str = "a hard night in winter, or before the wood was ripe";
pub const FINDS_DAY_OR_CREW: &str = "failures go with a crew, machine or planting day";
pub const FINDS_WATER_STOOD: &str = "water stood where they failed";
pub const FINDS_VALVE: &str = "failures go with a valve or a dry week";
pub const CHECK_THUMB: &str = "Push the scion sideways at the union with the thumb, with moderate force";
pub const FINDS_OPEN_UNION: &str = "it opens or moves";
pub const FINDS_FIRM_UNION: &str = "it holds all round";
pub const CHECK_SCRATCH: &str =
    "Nick the bark above the union, below it and on the rootstock: green and moist is alive";
pub const FINDS_GREEN_BELOW: &str = "dead above the union, green below";
pub const FINDS_DRY_ALL: &str = "dry or brown all the way down";
pub const CHECK_BUDS: &str = "Cut buds of vines that never grew";
pub const FINDS_SWOLLEN: &str = "swollen, then brown";
pub const FINDS_UNSWOLLEN: &str = "never swollen, dry or brown inside";
pub const CHECK_BARK: &str = "Look at bark and shoots close to the ground, on both sides of the row";
pub const FINDS_BITES: &str = "clean slanted cuts, torn shoots, gnawed bark";
pub const FINDS_BURN: &str = "burnt or split bark on the side that was sprayed, red veins, cupped leaves";
pub const FINDS_SOUND_BARK: &str = "sound bark";
pub const CHECK_EMPTY: &str = "Look at the places without a vine, and at the guard left there";
pub const FINDS_GNAWED: &str = "a gnawed stump, tracks, droppings";
pub const FINDS_CLEAN_HOLE: &str = "a clean hole, wheel or foot marks, nothing";
pub const CHECK_EMITTERS: &str =
    "Run the water and look at the wet spot under each failed vine and its living neighbours";
pub const FINDS_DRY_EMITTER: &str = "dry under the failed, wet under the living";
pub const FINDS_WET_EMITTER: &str = "wet under both";
pub const CHECK_HEIGHT: &str = "Measure from the soil to the union, on failed and living vines";
pub const FINDS_OFF_HEIGHT: &str = "buried, or far higher on the failed ones";
pub const FINDS_PROPER_HEIGHT: &str = "the same on both";
pub const CHECK_SPARES: &str = "Pot up vines that were never planted, from the same bundles, and watch them";
pub const FINDS_SPARES_FAIL: &str = "they fail as well";
pub const FINDS_SPARES_GROW: &str = "they grow";
pub const CHECK_DIG: &str = "Dig up failed or weak vines and as many strong ones beside them; look at roots and soil, cut the rootstock across below the union and at its base";
pub const FINDS_TURNED_UP: &str = "roots turned up or circling, smooth walls of the hole";
pub const FINDS_SOUR: &str = "sour, blue-grey soil, fine roots dead";
pub const FINDS_DRY_BALL: &str = "dry soil around the roots, living roots deeper";
pub const FINDS_NO_NEW_ROOTS: &str = "old roots dry and brown, no new ones ever grown";
pub const FINDS_LESIONS: &str = "black sunken spots on roots, dark spots or streaks in the wood";
pub const FINDS_GALLS: &str = "galls, or white fans under the bark of roots";
pub const CHECK_LAB: &str = "Send sick and healthy vines of each batch to a laboratory, apart and under code numbers, with their soil; not vines long dead. Ask the laboratory first how it wants them";
pub const FINDS_FUNGI: &str = "fungi of wood and roots in the sick, not in the healthy: without healthy ones beside them it says little, for in one study half of the vines or more left the nursery with some";
pub const FINDS_IN_SOIL: &str = "nematodes or root rots in the soil of the sick places";
pub const FINDS_NOTHING_IN_LAB: &str = "nothing, or as much in the healthy";

// Cautions.
pub const CAUTION_NONE: &str = "Write down what you find at each vine, with the date.";
pub const CAUTION_PAPERS: &str =
    "Keep the originals and photographs. Names of crews are for finding out, not for grading anybody.";
pub const CAUTION_THUMB: &str =
    "Test a few first: a union that has begun to knit can be broken. Photograph, and leave the vines standing.";
pub const CAUTION_CUT: &str =
    "Sharp blade, glove on the holding hand, cut away from the body. Clean the blade between vines.";
pub const CAUTION_SPRAY: &str = "Look only: never spray to try it out. For products, doses and re-entry follow the label and local rules, and ask a licensed adviser.";
pub const CAUTION_SPARES: &str = "Keep the labels on. Ask the nursery before you do it if a claim is open.";
pub const CAUTION_DIG: &str = "Find pipes and cables first, don't step into a deep pit. Photograph and label each vine, keep it cold, and ask nursery or adviser to be there where a claim is open. Ask the plant-health authority before vines or soil leave the place.";
pub const CAUTION_LAB: &str = "A laboratory and the plant-health authority decide how vines and soil may travel: ask before you send any. What a finding means is for them or a licensed adviser to say.";
