"""benchgalley: from an independent bench tester's raw trials to a published page that claims only what they show."""

__version__ = "0.1.0"
