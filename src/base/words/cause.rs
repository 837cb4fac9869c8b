//! Sentences of the room `cause`.
