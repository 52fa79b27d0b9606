"""The wire logs of `replay_logs/`: how they are made, and that what is in them is found."""
