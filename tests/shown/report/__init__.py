"""Reports: what stands on the pages, and that it stays there."""
