//! Sentences of the room `cli`.
