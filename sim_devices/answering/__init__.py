"""Those who answer alerts in the demo, on the wall and by pager, and a paging terminal of our own (SNPP)."""
