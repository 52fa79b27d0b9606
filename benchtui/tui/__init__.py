"""The dashboard: it draws a frozen `Board` and decides nothing."""
