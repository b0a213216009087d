"""The frozen values that cross from room to room. Nothing here knows a database, a file or a framework."""
