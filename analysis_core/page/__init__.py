"""The student's page: what it says, the dancer on it, and the one HTML file that holds everything."""

from .story import Story, story_of
from .write import Pictures, write_page

__all__ = ["Pictures", "Story", "story_of", "write_page"]
