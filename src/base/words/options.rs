//! Sentences of the room `options`.
