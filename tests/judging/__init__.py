"""The labelled benchmark of the watchers: cases, the score, and general-purpose methods beside ours."""
