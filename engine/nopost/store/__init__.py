"""What is kept on disk. `sessions`: one JSON file for each session, written whole after every event.

A file holds the history (parts with records by name or whole path, and the events with their source) and nothing that follows
from it, so a session is judged by today's knowledge. The format has a version; older ones are still read.
"""
