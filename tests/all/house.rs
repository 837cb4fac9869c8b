//! The arrows between rooms are one-way: the table in src/lib.rs says who may use whom, and the code keeps to it.

use std::fs;
use std::path::{Path, PathBuf};

/// A row of the map: room, and the rooms it may use.
struct Room {
    name: String,
    uses: Vec<String>,
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// The rows of the map in a text, `| [`name`] | … | uses |`.
fn map_rows(text: &str) -> Vec<&str> {
    text.lines().map(|l| l.trim_start_matches("//!").trim()).filter(|l| l.starts_with("| [`")).collect()
}

fn map() -> Vec<Room> {
    let text = fs::read_to_string(root().join("src/lib.rs")).unwrap();
    let room = |row: &str| {
        let cells: Vec<&str> = row.trim_matches('|').split('|').map(str::trim).collect();
        let name = cells[0].trim_matches(|c| "[`]".contains(c)).to_string();
        let uses = cells[2].split(',').map(|u| u.trim().to_string()).filter(|u| !u.is_empty()).collect();
        Room { name, uses }
    };
    map_rows(&text).into_iter().map(room).collect()
}

fn rust_files(folder: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files.extend(rust_files(&path));
        } else if path.extension().is_some_and(|e| e == "rs") {
            files.push(path);
        }
    }
    files
}

/// Rooms named after `crate::` in a file, also in `use crate::{a, b::c}`.
fn rooms_used(text: &str, rooms: &[Room]) -> Vec<String> {
    let mut used = Vec::new();
    for part in text.split("crate::").skip(1) {
        let names = match part.strip_prefix('{') {
            Some(list) => top_level(list),
            None => vec![part],
        };
        for name in names {
            let name: String = name.trim().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
            if rooms.iter().any(|r| r.name == name) && !used.contains(&name) {
                used.push(name);
            }
        }
    }
    used
}

/// The items of a `{…}` list, nested lists kept whole.
fn top_level(list: &str) -> Vec<&str> {
    let (mut depth, mut start, mut items) = (0, 0, Vec::new());
    for (i, c) in list.char_indices() {
        match c {
            '{' => depth += 1,
            '}' if depth == 0 => {
                items.push(&list[start..i]);
                break;
            }
            '}' => depth -= 1,
            ',' if depth == 0 => {
                items.push(&list[start..i]);
                start = i + 1;
            }
            _ => {}
        }
    }
    items
}

#[test]
fn every_room_uses_only_the_rooms_its_row_names() {
    let rooms = map();
    assert!(rooms.len() > 10, "the map in src/lib.rs could not be read");
    for room in &rooms {
        for file in rust_files(&root().join("src").join(&room.name)) {
            let text = fs::read_to_string(&file).unwrap();
            for used in rooms_used(&text, &rooms) {
                let allowed = used == room.name || room.uses.contains(&used);
                assert!(allowed, "{} uses {used}, which the map doesn't allow to {}", file.display(), room.name);
            }
        }
    }
}

#[test]
fn arrows_go_down_only() {
    let rooms = map();
    for (i, room) in rooms.iter().enumerate() {
        for used in &room.uses {
            let below = rooms[..i].iter().any(|r| &r.name == used);
            assert!(below, "{} uses {used}, which doesn't stand above it in the map", room.name);
        }
    }
}

#[test]
fn every_folder_is_a_room_of_the_map() {
    let rooms = map();
    for entry in fs::read_dir(root().join("src")).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            assert!(rooms.iter().any(|r| r.name == name), "src/{name} isn't in the map of src/lib.rs");
        }
    }
}

#[test]
fn the_developers_page_carries_the_same_map() {
    let page = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let library = fs::read_to_string(root().join("src/lib.rs")).unwrap();
    assert_eq!(map_rows(&page), map_rows(&library));
}

#[test]
fn only_intake_reads_with_polars_and_only_plot_draws_with_plotters() {
    for file in rust_files(&root().join("src")) {
        let text = fs::read_to_string(&file).unwrap();
        let inside = |room: &str| file.starts_with(root().join("src").join(room));
        assert!(inside("intake") || !text.contains("polars::"), "{}", file.display());
        assert!(inside("plot") || !text.contains("plotters::"), "{}", file.display());
        let prints = ["println!", "eprintln!", "print!(", "dbg!"].iter().any(|p| text.contains(p));
        assert!(inside("cli") || !prints, "{} prints", file.display());
    }
}

#[test]
fn every_assumption_asked_for_stands_in_the_table() {
    let names: Vec<&str> = fullstand::base::assumption::DEFAULTS.iter().map(|d| d.name).collect();
    for file in rust_files(&root().join("src")) {
        let text = fs::read_to_string(&file).unwrap();
        for call in ["assumptions.get(\"", "assumptions.quantity(\""] {
            for part in text.split(call).skip(1) {
                let name = part.split('"').next().unwrap_or_default();
                assert!(names.contains(&name), "{} asks for {name}", file.display());
            }
        }
    }
}
