//! Sentences of the room `report`.
