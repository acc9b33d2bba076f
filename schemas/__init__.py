"""JSON Schemas, reached through ``auditkit.order.schema``."""
