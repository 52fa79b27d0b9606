"""Cases that ask what will be: where points settle and when, and when they are below the warning level."""
