"""JSON Schemas, reached through ``auditkit.schema``."""
