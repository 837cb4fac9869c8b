//! Files, clock, terminal. Holds no formula.

/// Runs the program on the process's arguments.
pub fn main() -> std::process::ExitCode {
    std::process::ExitCode::SUCCESS
}
