//! Sentences of the room `intake`.
