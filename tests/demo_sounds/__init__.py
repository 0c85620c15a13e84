"""The sounds of the demo's instrument: a model of it, and the recordings that are made from the model."""
