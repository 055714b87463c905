"""Reading: today, history, finding, trends and exports. Never writes."""
