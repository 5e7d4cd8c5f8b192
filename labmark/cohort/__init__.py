"""Many classes: each marked as `mark` does it, and all of them side by side. Numbers come from their record trees."""
