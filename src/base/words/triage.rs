//! Sentences of the room `triage`.
