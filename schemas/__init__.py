"""JSON Schemas, reached through ``auditkit.order.event_kinds``."""
