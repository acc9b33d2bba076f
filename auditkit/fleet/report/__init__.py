"""An audit, drawn: a page that stands alone, and sheets of paper."""
