"""One invented shop, one week: data for ``auditkit demo``. Nothing here is real."""
