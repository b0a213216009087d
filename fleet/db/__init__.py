"""The database room. Its door is `fleet.db.repository.Register`; nothing is imported here so that it opens late."""
