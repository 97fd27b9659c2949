"""The cast blank: its two faces, turning over, and the pieces as height fields."""
