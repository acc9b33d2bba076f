"""What is written and read: values, strict JSON, base64url, texts for people. Pure."""
