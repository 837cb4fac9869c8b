//! Sentences of the room `order`.
