//! Sentences of the room `rates`.
