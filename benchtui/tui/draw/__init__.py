"""Drawing as pure functions: records in, a `Canvas` of cells out. No widget, no clock, no terminal."""
