"""Exact geometry that knows the job's words and shares no code with toolpath, and random jobs."""
