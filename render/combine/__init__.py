"""Pictures of elements on black, added to a portrait in linear light."""
